"""The page of a stage: start, checks, fail, mend, finish, and every no in words."""

from __future__ import annotations

import io
import uuid
from collections.abc import Callable
from datetime import date, timedelta
from typing import Any

import pytest
import time_machine
from django.test import Client
from django.urls import reverse
from PIL import Image

from cases.models import Case, CaseStage, CheckPhoto, Concession, Event, Mishap, Note, Submission
from cases.services.stage import start_stage
from tests.factories import NOW, PIN, Shop, rows
from tests.views.bench.conftest import sign_in, stage_of

pytestmark = pytest.mark.django_db
HX = {"HTTP_HX_REQUEST": "true"}


def picture(name: str = "p.jpg") -> io.BytesIO:
    data = io.BytesIO()
    Image.new("RGB", (40, 30), (200, 120, 90)).save(data, "JPEG")
    data.seek(0)
    data.name = name
    return data


def post(client: Client, name: str, row: Any, *, extra: dict | None = None, **data: Any) -> Any:
    body = {"submission_id": str(uuid.uuid4()), **data}
    if isinstance(row, CaseStage):
        body.setdefault("version", row.version)
    return client.post(reverse(f"cases:{name}", args=[row.pk]), body, **(extra or {}))


def begun(case: Case, key: str, shop: Shop, who: str = "mara") -> CaseStage:
    stage = stage_of(case, key)
    start_stage(
        shop.envelope(who, now=NOW - timedelta(minutes=12)), stage=stage.pk, version=stage.version
    )
    stage.refresh_from_db()
    return stage


def test_stage_page_says_how_much_must_be_true(bench: Client, case_at: Callable[..., Case]) -> None:
    case = case_at("teeth")
    page = bench.get(reverse("cases:bench-stage", args=[stage_of(case, "wax").pk]))
    text = page.content.decode()
    assert page.status_code == 200
    assert "Thirteen things must be true before it is passed." in text
    assert "Start: Wax up" in text
    assert "Bracing behind 35:" in text
    assert "Survey line at" in text
    assert "Borders: left at full depth for the dentist. Polish: all outer surfaces." in text
    assert "Open the lid away from you" in text


def test_stage_of_another_lab_or_unknown_is_not_there(bench: Client) -> None:
    assert bench.get(reverse("cases:bench-stage", args=[999])).status_code == 404


def test_stage_page_is_not_for_the_desk(client: Client, shop: Shop, case_at: Callable) -> None:
    case = case_at("trim")
    client.force_login(shop.people["noor"].user)
    url = reverse("cases:bench-stage", args=[stage_of(case, "survey").pk])
    assert client.get(url).status_code == 404


def test_start_takes_the_stage_and_can_be_undone(bench: Client, case_at: Callable) -> None:
    case = case_at("teeth")
    wax = stage_of(case, "wax")
    answer = post(bench, "bench-start", wax)
    wax.refresh_from_db()
    assert (answer.status_code, wax.state) == (303, "running")
    page = bench.get(answer["Location"]).content.decode()
    assert "Begun: Wax up" in page
    assert "13 things are open: go on" in page
    undone = post(bench, "bench-undo", wax)
    wax.refresh_from_db()
    assert (undone.status_code, wax.state) == (303, "planned")


def test_undo_is_not_offered_after_ten_seconds(
    bench: Client, case_at: Callable, moment: time_machine.Coordinates
) -> None:
    wax = stage_of(case_at("teeth"), "wax")
    post(bench, "bench-start", wax)
    moment.shift(11)
    page = bench.get(reverse("cases:bench-stage", args=[wax.pk])).content.decode()
    assert "Begun: Wax up" not in page


def test_start_with_an_old_version_says_who_was_quicker(
    bench: Client, shop: Shop, case_at: Callable
) -> None:
    case = case_at("teeth")
    old = stage_of(case, "wax")
    begun(case, "wax", shop, "oren")
    answer = post(bench, "bench-start", old)
    assert answer.status_code == 422
    assert "Oren has it in hand" in answer.content.decode()


def test_start_twice_with_the_same_id_starts_once(bench: Client, case_at: Callable) -> None:
    wax = stage_of(case_at("teeth"), "wax")
    sent = str(uuid.uuid4())
    first = post(bench, "bench-start", wax, submission_id=sent)
    second = post(bench, "bench-start", wax, submission_id=sent)
    assert (first.status_code, second.status_code) == (303, 303)
    assert wax.runs.count() == 1


def test_start_asks_for_the_flask_and_keeps_what_was_typed(
    bench: Client, case_at: Callable
) -> None:
    flask = stage_of(case_at("wax-pass"), "flask-lower")
    missing = post(bench, "bench-start", flask)
    wrong = post(bench, "bench-start", flask, **{"thing-flask": "99"})
    right = post(bench, "bench-start", flask, **{"thing-flask": "3"})
    assert missing.status_code == 422
    assert "Say which flask" in missing.content.decode()
    assert wrong.status_code == 422
    assert 'value="99"' in wrong.content.decode()
    assert right.status_code == 303
    assert flask.case.occupations.get(thing__kind="flask").thing.label == "3"


def test_start_before_a_point_of_no_return_takes_a_photograph(
    bench: Client, case_at: Callable
) -> None:
    take_off = stage_of(case_at("bite"), "take-off")
    page = bench.get(reverse("cases:bench-stage", args=[take_off.pk])).content.decode()
    assert "After this there is no way back." in page
    assert post(bench, "bench-start", take_off).status_code == 422
    sent = str(uuid.uuid4())
    for _n in range(2):
        done = post(bench, "bench-start", take_off, photo=picture(), submission_id=sent)
        assert done.status_code == 303
    assert take_off.case.files.filter(kind="before-take-off").count() == 1


def test_check_entry_is_judged_at_once(bench: Client, shop: Shop, case_at: Callable) -> None:
    case = case_at("teeth")
    wax = begun(case, "wax", shop)
    item = wax.checks.get(key="30@wax:35")
    answer = post(
        bench,
        "bench-check",
        item,
        extra=HX,
        version=wax.version,
        **{"value-edge": "4,6", "value-caliper": "6"},
    )
    text = answer.content.decode()
    item.refresh_from_db()
    assert (answer.status_code, item.state) == (200, "failed")
    assert "Measure 35 again" in text
    assert "A colleague accepts it" in text
    assert 'id="stage-bar" hx-swap-oob="true"' in text
    mended = post(
        bench,
        "bench-check",
        item,
        extra=HX,
        version=wax.version,
        **{"value-edge": "4.0", "value-caliper": "6"},
    )
    item.refresh_from_db()
    assert item.state == "passed"
    assert "Measure 35 again" not in mended.content.decode()
    assert item.results.count() == 2


def test_check_entry_that_is_no_number_says_so_and_stores_nothing(
    bench: Client, shop: Shop, case_at: Callable
) -> None:
    wax = begun(case_at("teeth"), "wax", shop)
    item = wax.checks.get(key="30@wax:35")
    answer = post(
        bench, "bench-check", item, extra=HX, version=wax.version, **{"value-edge": "four"}
    )
    assert answer.status_code == 422
    assert "“four” is not a number" in answer.content.decode()
    assert not item.results.exists()


def test_check_without_scripts_comes_back_to_the_page(
    bench: Client, shop: Shop, case_at: Callable
) -> None:
    wax = begun(case_at("teeth"), "wax", shop)
    item = wax.checks.get(key="31@wax:right pad")
    answer = post(bench, "bench-check", item, version=wax.version, yes="no")
    assert answer.status_code == 303
    page = bench.get(answer["Location"]).content.decode()
    assert "Look at right pad again" in page


def test_photograph_of_a_check(bench: Client, shop: Shop, case_at: Callable) -> None:
    case = case_at("wax")
    passing = begun(case, "wax-pass", shop, "oren")
    sign_in(bench, shop, "oren")
    item = passing.checks.get(number=35)
    answer = post(
        bench, "bench-check-photo", item, extra=HX, version=passing.version, photo=picture()
    )
    assert answer.status_code == 200
    assert CheckPhoto.objects.filter(item=item).count() == 1
    assert "One more photograph" in answer.content.decode()


def fail(bench: Client, wax: CaseStage) -> Any:
    item = wax.checks.get(key="30@wax:35")
    post(
        bench,
        "bench-check",
        item,
        version=wax.version,
        **{"value-edge": "4.6", "value-caliper": "6"},
    )
    return item


def test_concession_by_a_colleague_with_a_pin(bench: Client, shop: Shop, case_at: Callable) -> None:
    wax = begun(case_at("teeth"), "wax", shop)
    item = fail(bench, wax)
    oren = shop.people["oren"]
    wrong = post(
        bench,
        "bench-accept",
        item,
        version=wax.version,
        reason="at-the-limit",
        person=oren.pk,
        pin="9999",
    )
    assert wrong.status_code == 422
    assert "Wrong PIN" in wrong.content.decode()
    done = post(
        bench,
        "bench-accept",
        item,
        version=wax.version,
        reason="at-the-limit",
        person=oren.pk,
        pin=PIN,
    )
    assert done.status_code == 303
    conceded = Concession.objects.get()
    assert (conceded.by, conceded.item_id) == (oren, item.pk)
    assert "Mara" in bench.get(done["Location"]).content.decode()  # the tablet is still hers


def test_concession_is_not_for_who_did_the_work(
    bench: Client, shop: Shop, case_at: Callable
) -> None:
    wax = begun(case_at("teeth"), "wax", shop)
    item = fail(bench, wax)
    own = post(
        bench,
        "bench-accept",
        item,
        version=wax.version,
        reason="at-the-limit",
        person=shop.people["mara"].pk,
        pin=PIN,
    )
    none = post(bench, "bench-accept", item, version=wax.version, reason="at-the-limit")
    assert (own.status_code, none.status_code) == (422, 422)
    assert not Concession.objects.exists()


def test_finish_says_what_is_open(bench: Client, shop: Shop, case_at: Callable) -> None:
    wax = begun(case_at("teeth"), "wax", shop)
    answer = post(bench, "bench-finish", wax)
    page = bench.get(answer["Location"]).content.decode()
    wax.refresh_from_db()
    assert (answer.status_code, wax.state) == (303, "running")
    assert "It is not passed yet: 13 checks are open." in page


def test_pause_and_resume(bench: Client, shop: Shop, case_at: Callable) -> None:
    wax = begun(case_at("teeth"), "wax", shop)
    post(bench, "bench-pause", wax)
    wax.refresh_from_db()
    assert wax.state == "paused"
    post(bench, "bench-resume", wax)
    wax.refresh_from_db()
    assert wax.state == "running"


def test_send_back_shows_and_opens_what_follows(
    bench: Client, shop: Shop, case_at: Callable
) -> None:
    case = case_at("teeth")
    wax = begun(case, "wax", shop)
    shown = bench.get(reverse("cases:bench-back", args=[wax.pk]), {"to": "clasps"})
    text = shown.content.decode()
    assert "Bend clasps and wire rests" in text
    assert "stages open again" in text
    none = post(bench, "bench-back", wax, to="clasps")
    assert none.status_code == 422
    assert "Choose a reason." in none.content.decode()
    done = post(
        bench,
        "bench-back",
        wax,
        to="clasps",
        reason="clasp-damaged",
        **{"standing-teeth": "teeth are on the cast"},
    )
    clasps = stage_of(case, "clasps")
    assert (done.status_code, clasps.state, clasps.attempt) == (303, "planned", 2)
    assert stage_of(case, "teeth").state == "done"


def test_hold_and_release(bench: Client, shop: Shop, case_at: Callable) -> None:
    case = case_at("teeth")
    wax = stage_of(case, "wax")
    bad = post(
        bench,
        "bench-hold",
        wax,
        version=case.version,
        reason="other",
        waits_for="practice",
        scope="case",
    )
    assert bad.status_code == 422
    done = post(
        bench,
        "bench-hold",
        wax,
        version=case.version,
        reason="on-order",
        waits_for="supplier",
        scope="stage",
        expected_on="2026-12-14",
    )
    hold = case.holds.get()
    assert (done.status_code, hold.stages, hold.waits_for) == (303, ["wax"], "supplier")
    assert hold.expected_on == date(2026, 12, 14)
    page = bench.get(reverse("cases:bench-stage", args=[wax.pk])).content.decode()
    assert "Expected until Monday 14 December." in page
    assert "it waits for a supplier" in page
    assert "Start: Wax up" not in page
    post(bench, "bench-release", wax, hold=hold.pk)
    hold.refresh_from_db()
    assert hold.released_at is not None


def test_skip_needs_a_reason(bench: Client, case_at: Callable) -> None:
    case = case_at("block-out")
    mount = stage_of(case, "mount")
    assert post(bench, "bench-skip", mount).status_code == 422
    done = post(bench, "bench-skip", mount, reason="no-opposing")
    mount.refresh_from_db()
    assert (done.status_code, mount.state, mount.words) == (303, "skipped", "No opposing cast")


def test_ask_the_practice_writes_the_question_out(bench: Client, case_at: Callable) -> None:
    case = case_at("trim")
    survey = stage_of(case, "survey")
    url = reverse("cases:bench-ask", args=[survey.pk])
    assert "Ask in your own words" in bench.get(url).content.decode()
    assert bench.get(url, {"number": 11}).status_code == 200
    empty = bench.post(f"{url}?number=11", {"submission_id": uuid.uuid4(), "tooth": ""})
    assert empty.status_code == 422
    done = bench.post(f"{url}?number=11", {"submission_id": uuid.uuid4(), "tooth": "35"})
    question = case.questions.get()
    assert done.status_code == 303
    assert "35" in question.words
    own = bench.post(f"{url}?number=0", {"submission_id": uuid.uuid4(), "words": "Which side?"})
    assert own.status_code == 303


def test_small_forms_store_and_keep_what_was_typed(
    bench: Client, shop: Shop, case_at: Callable
) -> None:
    wax = begun(case_at("teeth"), "wax", shop)
    assert post(bench, "bench-mishap", wax, words="").status_code == 422
    assert post(bench, "bench-mishap", wax, words="Cast fell", photo=picture()).status_code == 303
    assert Mishap.objects.get().file is not None
    assert post(bench, "bench-note", wax, text="Thin over 35").status_code == 303
    assert post(bench, "bench-place", wax, kind="cast", place="").status_code == 422
    assert post(bench, "bench-place", wax, kind="tooth-card", place="shelf 2").status_code == 303
    assert wax.case.things.get(label="Tooth card").place == "shelf 2"
    handed = post(
        bench,
        "bench-hand-over",
        wax,
        words="Only the right pad is left",
        person=shop.people["oren"].pk,
    )
    wax.refresh_from_db()
    assert (handed.status_code, wax.state) == (303, "paused")
    assert wax.assignee == shop.people["oren"]
    assert Note.objects.filter(kind="hand-over").count() == 1
    page = bench.get(reverse("cases:bench-stage", args=[wax.pk])).content.decode()
    assert "Only the right pad is left" in page


def test_minutes_are_corrected_and_both_stay(bench: Client, shop: Shop, case_at: Callable) -> None:
    wax = begun(case_at("teeth"), "wax", shop)
    post(bench, "bench-pause", wax)
    span = wax.runs.get(ended_at=None).spans.get()
    bad = post(bench, "bench-minutes", span, minutes="many", reason="forgot-stop")
    assert bad.status_code == 422
    assert 'value="many"' in bad.content.decode()
    done = post(bench, "bench-minutes", span, minutes="7", reason="forgot-stop")
    assert done.status_code == 303
    text = bench.get(done["Location"]).content.decode()
    assert "corrected; the clock said 12 min" in " ".join(text.split())


def test_stage_away_comes_back(bench: Client, shop: Shop, case_at: Callable) -> None:
    case = case_at("trim")
    stage = stage_of(case, "survey")
    CaseStage.objects.filter(pk=stage.pk).update(state="away")
    page = bench.get(reverse("cases:bench-stage", args=[stage.pk])).content.decode()
    assert "It is back from the practice" in page
    assert post(bench, "bench-came-back", stage).status_code == 303


def test_student_stage_is_signed_by_a_colleague_on_the_same_tablet(
    client: Client, shop: Shop, case_at: Callable, moment: time_machine.Coordinates
) -> None:
    from tests.factories import answers
    from tests.walk import add_photos

    case = case_at("wax")
    sign_in(client, shop, "teo")
    wax_pass = begun(case, "wax-pass", shop, "teo")
    add_photos(shop, wax_pass, NOW, "teo")
    for entry in answers(wax_pass):
        item = wax_pass.checks.get(pk=entry["item"])
        post(client, "bench-check", item, version=wax_pass.version, yes="yes")
    done = post(client, "bench-finish", wax_pass)
    wax_pass.refresh_from_db()
    assert (done.status_code, wax_pass.state) == (303, "countersign")
    page = client.get(reverse("cases:bench-stage", args=[wax_pass.pk])).content.decode()
    assert "Pass for flasking waits for a second pair of eyes." in page
    asked = wax_pass.countersigns.get()
    own = post(client, "bench-sign", asked, agreed="yes")
    assert own.status_code == 422
    signed = post(client, "bench-sign", asked, agreed="yes", person=shop.people["oren"].pk, pin=PIN)
    wax_pass.refresh_from_db()
    assert (signed.status_code, wax_pass.state) == (303, "done")


def test_every_write_of_the_page_is_one_submission(
    bench: Client, shop: Shop, case_at: Callable
) -> None:
    wax = stage_of(case_at("teeth"), "wax")
    before = Submission.objects.count()
    post(bench, "bench-start", wax)
    assert Submission.objects.count() == before + 1
    assert Event.objects.filter(subject="wax", kind="stage.started").count() == 1


def test_stage_page_asks_the_database_the_same_whatever_the_number_of_cases(
    bench: Client, shop: Shop, case_at: Callable, django_assert_num_queries: Any
) -> None:
    from django.db import connection
    from django.test.utils import CaptureQueriesContext

    url = reverse("cases:bench-stage", args=[stage_of(case_at("teeth"), "wax").pk])
    bench.get(url)
    with CaptureQueriesContext(
        connection,
    ) as few:
        bench.get(url)
    for n in range(3):
        case_at("trim", ref=f"Q-2{n}00")
    with django_assert_num_queries(len(few)):
        bench.get(url)


def test_words_beside_a_number_are_asked_kept_and_preset(
    bench: Client, shop: Shop, case_at: Callable
) -> None:
    case = case_at("soak")
    row = case.stages.get(key="pack-out")
    item = row.checks.get(number=50)
    told = [{**one, "usual": "Usual wash"} for one in item.spec["told"]]
    rows(lambda record: {"item": record.change(item, spec={**item.spec, "told": told})})
    row = begun(case, "pack-out", shop)
    page = bench.get(reverse("cases:bench-stage", args=[row.pk])).content.decode()
    assert 'name="told-agent" value="Usual wash"' in page

    answer = post(
        bench, "bench-check", item, extra=HX, version=row.version, yes="yes",
        **{"value-minutes": "10", "told-agent": "Other wash"},
    )  # fmt: skip

    item.refresh_from_db()
    assert (item.state, item.values["words"]) == ("passed", {"agent": "Other wash"})
    assert "10 min, Other wash" in answer.content.decode()
    history = bench.get(reverse("cases:case", args=[case.number])).content.decode()
    assert "10 min, Other wash" in history
