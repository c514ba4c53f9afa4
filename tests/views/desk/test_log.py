"""The intake: what is logged, what is refused, and that nothing typed is lost."""

from __future__ import annotations

import base64
import io
import json
from datetime import date
from pathlib import Path
from typing import Any

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.test import Client
from django.urls import reverse
from PIL import Image
from reportlab.pdfgen.canvas import Canvas

from cases.domain.patientref import RULE
from cases.models import Case, Dentist, File, Practice, Prescription, Promise, Submission
from cases.services.verify_record import verify_record
from tests.factories import Shop, make_case
from tests.views.desk.conftest import sign_in
from tests.views.desk.entries import entries

LOG = "/desk/log/"


def picture(name: str = "order.png") -> SimpleUploadedFile:
    data = io.BytesIO()
    Image.new("RGB", (200, 100), (240, 240, 240)).save(data, "PNG")
    return SimpleUploadedFile(name, data.getvalue(), content_type="image/png")


def three_pages(ballast: int = 0) -> SimpleUploadedFile:
    """A scan of three pages with a name at the top of each; ``ballast`` bytes make it heavy."""
    data = io.BytesIO()
    sheet = Canvas(data, pagesize=(300, 400))
    for number in (1, 2, 3):
        sheet.setFont("Helvetica-Bold", 24)
        sheet.drawString(20, 360, f"Name of page {number}")
        sheet.drawString(20, 200, f"Tooth {35 + number}")
        sheet.showPage()
    sheet.save()
    bytes_of = data.getvalue() + b"\n%" + b"x" * ballast
    return SimpleUploadedFile("order.pdf", bytes_of, content_type="application/pdf")


def _top(path: Path) -> tuple[int, int]:
    """Return the darkest and the brightest pixel of the upper fifth of a stored page."""
    with Image.open(path) as stored:
        wide, high = stored.size
        return stored.convert("L").crop((0, 0, wide, high // 5)).getextrema()  # type: ignore[return-value]


def max_top(path: Path) -> int:
    return _top(path)[1]


def darkest_of_the_top(settings: Any, file: File) -> int:
    return _top(settings.MEDIA_ROOT / file.path)[0]


def brightest_of_the_top(settings: Any, file: File) -> int:
    return _top(settings.MEDIA_ROOT / file.path)[1]


def post(client: Client, body: dict[str, Any], **extra: Any) -> Any:
    return client.post(LOG, body, **extra)


def text(response: Any) -> str:
    return str(response.content.decode())


class TestLogging:
    def test_complete_order_is_logged_and_nothing_is_asked(self, desk: Client, shop: Shop) -> None:
        response = post(desk, entries(shop))

        case = Case.objects.get()
        assert (response.status_code, response["Location"]) == (
            303,
            reverse("cases:logged", args=[case.number]),
        )
        assert (case.patient_ref, case.arch, case.order["replaces"]) == (
            "Q-1180",
            "lower",
            [36, 37, 46, 47],
        )
        assert not case.questions.exists()
        assert case.promised_on is not None
        assert verify_record() == []

    def test_opposing_impression_is_taken_with_the_other(self, desk: Client, shop: Shop) -> None:
        post(desk, entries(shop))

        working, opposing = Case.objects.get().received.all()
        assert (opposing.material, opposing.taken_at) == ("alginate", working.taken_at)

    def test_both_arches_make_a_pair(self, desk: Client, shop: Shop) -> None:
        response = post(
            desk,
            entries(
                shop,
                arch="both",
                replaces="16, 36",
                opposing_came="",
                second_came="here",
                second_form="impression",
                second_same="on",
            ),
        )

        upper, lower = Case.objects.order_by("pk")
        assert (upper.arch, lower.arch, upper.twin_id) == ("upper", "lower", lower.pk)
        page = text(desk.get(response["Location"]))
        assert upper.number in page
        assert lower.number in page

    def test_missing_shade_is_logged_with_its_question(self, desk: Client, shop: Shop) -> None:
        response = post(desk, entries(shop, shade_how=""))

        question = Case.objects.get().questions.get()
        assert question.number == 3
        assert "Which shade, by which guide?" in text(desk.get(response["Location"]))

    def test_what_follows_later_holds_only_its_stages(self, desk: Client, shop: Shop) -> None:
        post(desk, entries(shop, opposing_came="later", opposing_expected_on="2026-12-11"))

        case = Case.objects.get()
        assert case.received.get(item="opposing").expected_on == date(2026, 12, 11)
        assert not case.questions.exists()
        assert {key for hold in case.holds.all() for key in hold.stages} == {"mount"}

    def test_teeth_are_read_in_the_notation_of_the_lab(self, desk: Client, shop: Shop) -> None:
        shop.lab.notation = "universal"
        shop.lab.save()

        post(desk, entries(shop, replaces="18-19, 30 31"))

        assert sorted(Case.objects.get().order["replaces"]) == [36, 37, 46, 47]

    def test_extraction_depths_differ_from_tooth_to_tooth(self, desk: Client, shop: Shop) -> None:
        post(
            desk,
            entries(
                shop,
                extract="31 41",
                extract_depth="each",
                depth_31="flush",
                depth_41="2mm",
                extraction_order="on",
            ),
        )

        assert Case.objects.get().order["extractions"] == [
            {"tooth": 31, "depth": "flush"},
            {"tooth": 41, "depth": "2mm"},
        ]

    def test_new_practice_and_dentist_come_in_with_the_order(
        self, desk: Client, shop: Shop
    ) -> None:
        post(
            desk,
            entries(
                shop,
                practice="new",
                new_practice_name="Fen Street",
                new_practice_code="fs",
                new_practice_ship_weekdays=["0", "2", "4"],
                new_practice_transit_days="1",
                new_practice_cut_off="15:00",
                dentist="new",
                new_dentist_name="Dr Reed",
            ),
        )

        practice = Practice.objects.get(code="FS")
        assert practice.ship_weekdays == [0, 2, 4]
        assert Case.objects.get().practice == practice
        assert Dentist.objects.get(name="Dr Reed").places.get().practice == practice
        assert verify_record() == []

    def test_refused_order_leaves_no_new_practice(self, desk: Client, shop: Shop) -> None:
        response = post(
            desk,
            entries(
                shop,
                practice="new",
                new_practice_name="Fen Street",
                new_practice_code="Q",
                new_practice_ship_weekdays=["0"],
            ),
        )

        assert response.status_code == 422
        assert "Another practice has this code." in text(response)
        assert Practice.objects.count() == 2
        assert not Case.objects.exists()

    def test_dentist_from_elsewhere_becomes_known_here(self, desk: Client, shop: Shop) -> None:
        vega = Dentist.objects.get(name="Dr Vega")

        post(desk, entries(shop, dentist=str(vega.pk)))

        assert vega.places.filter(practice=shop.practice).exists()

    def test_remake_names_its_first_case(self, desk: Client, shop: Shop) -> None:
        first = make_case(shop, ref="Q-7")

        post(
            desk,
            entries(
                shop,
                kind="remake",
                remake_of=first.number.lower(),
                remake_start="new-impression",
                remake_reason="no-hold",
                remake_origin="impression",
            ),
        )

        assert Case.objects.latest("pk").remake_of == first

    def test_adjustment_has_no_impression(self, desk: Client, shop: Shop) -> None:
        post(desk, entries(shop, kind="adjustment", piece_came="here"))

        case = Case.objects.get()
        assert [row.item for row in case.received.all()] == ["old-piece"]
        assert not case.stages.filter(key="pour").exists()
        assert case.pour_by is None

    def test_same_submission_twice_logs_once(self, desk: Client, shop: Shop) -> None:
        body = entries(shop)

        first, second = post(desk, body), post(desk, body)

        assert first["Location"] == second["Location"]
        assert Case.objects.count() == 1


class TestRefusals:
    @pytest.mark.parametrize(
        ("changes", "sentence"),
        [
            ({"patient_ref": "maria"}, RULE),
            ({"replaces": "16, 36"}, "16 is a tooth of the upper arch"),
            ({"replaces": "36, 99"}, "names no tooth in the FDI system"),
            ({"appointment_on": "2026-12-01"}, "is before today"),
            ({"working_taken_time": "10:41"}, "cannot have been taken after it was received"),
            ({"working_taken_on": ""}, "Give the day as well."),
            ({"working_pour_limit": "0"}, "greater than or equal to 1"),
            ({"needed_on": "2026-12-24"}, "after the appointment"),
            ({"disinfected_minutes": "ten"}, "Enter a whole number."),
            ({"practice": ""}, "This field is required."),
            ({"allergies": "other-allergy"}, "Write which other allergy was told."),
            ({"kind": "remake", "remake_of": "26-0001-X"}, "has a mistake in it"),
            ({"kind": "remake", "remake_of": ""}, "Say which case is made again."),
        ],
    )
    def test_slip_is_said_and_everything_typed_is_kept(
        self, desk: Client, shop: Shop, changes: dict[str, str], sentence: str
    ) -> None:
        response = post(desk, entries(shop, **changes))

        page = text(response).replace("&#x27;", "'")
        assert response.status_code == 422
        assert sentence in page
        assert "Heat-cured acrylic, wrought wire" in page
        for value in changes.values():
            assert f'value="{value}"' in page
        assert not Case.objects.exists()
        assert not Prescription.objects.exists()

    def test_refused_page_has_a_new_submission_id(self, desk: Client, shop: Shop) -> None:
        body = entries(shop, patient_ref="maria")

        page = text(post(desk, body))

        assert body["submission_id"] not in page
        assert 'name="submission_id"' in page

    def test_same_patient_is_pointed_out_and_may_be_another_piece(
        self, desk: Client, shop: Shop
    ) -> None:
        earlier = make_case(shop)

        refused = post(desk, entries(shop))
        passed = post(desk, entries(shop, same_patient_seen="on"))

        assert refused.status_code == 422
        assert earlier.number in text(refused)
        assert reverse("cases:case-new-impression", args=[earlier.number]) in text(refused)
        assert passed.status_code == 303

    def test_day_that_does_not_fit_must_be_chosen(self, desk: Client, shop: Shop) -> None:
        body = entries(shop, appointment_on="2026-12-10")

        refused = post(desk, body)
        chosen = post(desk, entries(shop, appointment_on="2026-12-10", ship="2026-12-14"))

        assert refused.status_code == 422
        assert "The first ship day that fits is" in text(refused)
        assert 'name="ship" value="2026-12-' in text(refused)
        assert chosen.status_code == 303
        assert Promise.objects.get().ship_on.isoformat() == "2026-12-14"

    def test_own_day_must_not_be_over(self, desk: Client, shop: Shop) -> None:
        refused = post(desk, entries(shop, ship="other", ship_on="2026-12-08"))
        passed = post(
            desk, entries(shop, ship="other", ship_on="2026-12-15", ship_reason="They fetch it")
        )

        assert "That day is over." in text(refused)
        assert passed.status_code == 303
        assert Promise.objects.get().reason == "They fetch it"

    def test_without_any_day_nothing_is_promised(self, desk: Client, shop: Shop) -> None:
        post(desk, entries(shop, appointment_on=None))

        assert Case.objects.get().leaves_at is None


class TestPapers:
    def test_photograph_of_the_prescription_is_stored_with_its_cover(
        self, desk: Client, shop: Shop, settings: Any
    ) -> None:
        cover = json.dumps([{"file": 0, "x": 0, "y": 0, "w": 0.5, "h": 1}])

        post(desk, entries(shop, papers=picture(), papers_cover=cover))

        file = File.objects.get()
        assert (file.kind, file.visible_to_practice) == ("prescription", True)
        with Image.open(settings.MEDIA_ROOT / file.path) as stored:
            left, right = stored.getpixel((20, 50)), stored.getpixel((180, 50))
        assert max(left) < 60  # type: ignore[arg-type]
        assert min(right) > 200  # type: ignore[arg-type]

    def test_every_page_of_a_pdf_can_be_covered(
        self, desk: Client, shop: Shop, settings: Any
    ) -> None:
        cover = json.dumps([{"file": 0, "page": 1, "x": 0, "y": 0, "w": 1, "h": 0.3}])

        post(desk, entries(shop, papers=three_pages(), papers_cover=cover))

        first, second, third = File.objects.order_by("pk")
        assert darkest_of_the_top(settings, second) == brightest_of_the_top(settings, second)
        assert brightest_of_the_top(settings, second) < 60
        for untouched in (first, third):
            # The name that stands there is still to be read: dark letters on white.
            assert darkest_of_the_top(settings, untouched) < 100
            assert brightest_of_the_top(settings, untouched) > 200

    @pytest.mark.parametrize(("page", "covered"), [("2", [1]), ("", [0, 1, 2])])
    def test_strip_is_covered_without_drawing(
        self, desk: Client, shop: Shop, settings: Any, page: str, covered: list[int]
    ) -> None:
        strips = {"papers_strip": ["top-quarter", ""], "papers_strip_page": [page, ""]}

        post(desk, entries(shop, papers=three_pages(), **strips))

        tops = [brightest_of_the_top(settings, file) for file in File.objects.order_by("pk")]
        assert [n for n, top in enumerate(tops) if top < 60] == covered

    def test_nothing_uncovered_lies_on_the_disk(
        self, desk: Client, shop: Shop, settings: Any, tmp_path: Path
    ) -> None:
        spilled = tmp_path / "spilled"
        spilled.mkdir()
        settings.FILE_UPLOAD_TEMP_DIR = str(spilled)
        heavy = three_pages(ballast=4 * 1024 * 1024)

        desk.post(reverse("cases:log-pages"), {"file": three_pages(ballast=4 * 1024 * 1024)})
        post(desk, entries(shop, papers=heavy, papers_strip=["top-third"]))

        kept = [path for path in settings.MEDIA_ROOT.rglob("*") if path.is_file()]
        assert sorted(file.path for file in File.objects.all()) == sorted(
            str(path.relative_to(settings.MEDIA_ROOT)) for path in kept
        )
        assert len(kept) == 3
        assert all(max_top(path) < 60 for path in kept)
        assert list(spilled.iterdir()) == []

    def test_cover_of_a_page_that_is_not_there_stores_nothing(
        self, desk: Client, shop: Shop, settings: Any
    ) -> None:
        cover = json.dumps([{"file": 0, "page": 3, "x": 0, "y": 0, "w": 1, "h": 0.3}])

        response = post(desk, entries(shop, papers=three_pages(), papers_cover=cover))

        assert "There is no page 4 to cover; it has 3." in text(response)
        assert not settings.MEDIA_ROOT.exists()

    def test_pages_are_shown_from_memory(self, desk: Client, shop: Shop, settings: Any) -> None:
        response = desk.post(reverse("cases:log-pages"), {"file": three_pages()})

        pages = [base64.b64decode(page) for page in response.json()["pages"]]
        assert [Image.open(io.BytesIO(page)).format for page in pages] == ["JPEG"] * 3
        assert response["Cache-Control"] == "no-store"
        assert not settings.MEDIA_ROOT.exists()

    def test_file_without_pages_is_refused_in_words(self, desk: Client, shop: Shop) -> None:
        broken = SimpleUploadedFile("order.pdf", b"%PDF-1.4 broken")

        response = desk.post(reverse("cases:log-pages"), {"file": broken})

        assert response.status_code == 422
        assert "This PDF cannot be read." in response.json()["sentence"]

    def test_upload_survives_a_refused_form(self, desk: Client, shop: Shop) -> None:
        refused = post(desk, entries(shop, patient_ref="maria", papers=picture()))
        (token,) = [paper.token for paper in refused.context["papers"]]

        shown = desk.get(reverse("cases:log-paper", args=[token]))
        post(desk, entries(shop, paper=token))

        assert shown["Content-Type"] == "image/jpeg"
        assert File.objects.get().case == Case.objects.get()

    def test_paper_can_be_left_out_again(self, desk: Client, shop: Shop, settings: Any) -> None:
        refused = post(desk, entries(shop, patient_ref="maria", papers=picture()))
        (paper,) = refused.context["papers"]

        post(desk, entries(shop, paper=paper.token, leave_out=paper.id))

        assert Case.objects.exists()
        assert not File.objects.exists()
        assert not [path for path in settings.MEDIA_ROOT.rglob("*") if path.is_file()]

    def test_what_is_no_picture_is_refused_and_logs_nothing(self, desk: Client, shop: Shop) -> None:
        upload = SimpleUploadedFile("order.jpg", b"no picture")

        response = post(desk, entries(shop, papers=[upload, picture()]))

        assert response.status_code == 422
        assert "order.jpg: This is not a picture that can be read." in text(response)
        assert len(response.context["papers"]) == 1
        assert not Case.objects.exists()

    def test_cover_that_cannot_be_read_stores_nothing(
        self, desk: Client, shop: Shop, settings: Any
    ) -> None:
        response = post(desk, entries(shop, papers=picture(), papers_cover='[{"file": 0}]'))

        assert "Choose the photograph and cover it again." in text(response)
        assert not settings.MEDIA_ROOT.exists()

    def test_forged_reference_is_not_taken(self, desk: Client, shop: Shop) -> None:
        forged = '{"path": "../settings.py"}:signature'

        post(desk, entries(shop, paper=forged))
        shown = desk.get(reverse("cases:log-paper", args=["forged:signature"]))

        assert not File.objects.exists()
        assert shown.status_code == 404


class TestLook:
    def test_fragment_says_what_is_missing_and_stores_nothing(
        self, desk: Client, shop: Shop
    ) -> None:
        response = desk.post(
            reverse("cases:log-look"), entries(shop, shade_how=""), headers={"HX-Request": "true"}
        )

        page = text(response)
        assert "It can be logged; one thing is missing." in page
        assert "Which shade, by which guide?" in page
        assert "8 minutes left to pour" in page
        assert "is the last ship day that reaches the practice" in page
        assert "<html" not in page
        assert not Submission.objects.filter(verb="intake.log").exists()

    def test_look_without_scripts_shows_the_whole_page(self, desk: Client, shop: Shop) -> None:
        response = post(desk, entries(shop, look="1", practice=""))

        assert response.status_code == 200
        assert "Nothing is missing." in text(response) or "put right" in text(response)
        assert not Case.objects.exists()

    def test_usual_orders_are_shown_before_they_count(self, desk: Client, shop: Shop) -> None:
        shop.practice.usual_borders = "reduced-2mm"
        shop.practice.save()
        silent = entries(shop, borders="")

        looked = desk.post(reverse("cases:log-look"), silent, headers={"HX-Request": "true"})
        post(desk, silent)

        assert looked.context["form"]["borders"].value() == "reduced-2mm"
        assert "Usual for this practice: Laboratory reduces" in text(looked)
        assert Case.objects.get().order["borders"] == ""

    def test_desk_can_say_that_this_prescription_is_silent(self, desk: Client, shop: Shop) -> None:
        shop.practice.usual_borders = "reduced-2mm"
        shop.practice.save()

        looked = desk.post(
            reverse("cases:log-look"),
            entries(shop, borders="", usual_of=str(shop.practice.pk)),
            headers={"HX-Request": "true"},
        )

        assert looked.context["form"]["borders"].value() == ""

    def test_same_patient_is_shown_while_typing(self, desk: Client, shop: Shop) -> None:
        earlier = make_case(shop)

        looked = desk.post(reverse("cases:log-look"), entries(shop), headers={"HX-Request": "true"})

        assert earlier.number in text(looked)

    def test_empty_form_can_be_looked_at(self, desk: Client, shop: Shop) -> None:
        looked = desk.post(reverse("cases:log-look"), {}, headers={"HX-Request": "true"})

        assert looked.status_code == 200
        assert "Nothing is entered yet." in text(looked)


class TestDoor:
    @pytest.mark.parametrize(
        ("who", "status"), [("noor", 200), ("pavo", 200), ("mara", 404), ("lind", 404)]
    )
    def test_only_who_may_log_sees_the_intake(
        self, shop: Shop, clock: None, who: str, status: int
    ) -> None:
        assert sign_in(shop, who).get(LOG).status_code == status

    def test_logged_page_of_an_unknown_or_mistyped_number_is_not_there(
        self, desk: Client, shop: Shop
    ) -> None:
        for number in ("26-0001-X", "26-9999-0", "nonsense"):
            assert desk.get(f"/desk/log/done/{number}/").status_code == 404

    def test_link_brings_entries_along(self, desk: Client, shop: Shop) -> None:
        brought = {"kind": "remake", "practice": str(shop.practice.pk), "remake_of": "x"}

        page = desk.get(LOG, brought)

        assert page.context["form"]["kind"].value() == "remake"
        assert page.context["form"]["practice"].value() == str(shop.practice.pk)
