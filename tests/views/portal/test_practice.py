"""What a practice sees and can say: its cases, questions, reports."""

from __future__ import annotations

import re
import uuid
from datetime import timedelta
from typing import TYPE_CHECKING, Any

import pytest
from django.test import Client
from django.urls import reverse
from pytest_django import DjangoAssertNumQueries

from cases.models import Case, InsertionReport, Question
from cases.selectors import portal
from cases.services.hold import hold_case
from cases.services.promise import promise_day
from cases.services.report import insert_report
from tests.factories import NOW, Shop, make_case, make_order
from tests.rights.scene import Scene
from tests.views.portal.conftest import sign_in

if TYPE_CHECKING:
    from playwright.sync_api import Page
    from pytest_django.live_server_helper import LiveServer

pytestmark = pytest.mark.usefixtures("clock")


def text_of(answer: Any) -> str:
    """Return what a person reads, tags and runs of blanks taken out."""
    return re.sub(r"\s+", " ", re.sub(r"<[^>]+>", " ", answer.content.decode()))


def ask(case: Case, number: int) -> Question:
    return case.questions.get(number=number)


def answer(client: Client, question: Question, **body: Any) -> Any:
    where = reverse("cases:practice-answer", args=[question.case.number, question.pk])
    return client.post(where, {"submission_id": str(uuid.uuid4()), **body})


def test_practice_reads_questions_first_and_where_each_case_is(scene: Scene) -> None:
    text = text_of(sign_in(scene.shop, "lind").get("/practice/"))

    assert "2 questions wait for your answer. 3 cases are in the laboratory." in text
    assert text.index("Which shade, by which guide?") < text.index("In the laboratory")
    assert "The cast is being surveyed and the design drawn. It leaves on Tuesday 22" in text
    assert "It is on hold. The work rests in the laboratory for the moment." in text
    assert "How did these seat?" in text
    assert "UT-7741" not in text


def test_reception_answers_shades_and_reads_who_answers_the_rest(scene: Scene) -> None:
    answered = sign_in(scene.shop, "remy").get("/practice/")

    text = text_of(answered)
    assert "One question waits for your answer. One question waits for a dentist." in text
    assert "Dr Lind has to answer this." in text
    assert answered.content.decode().count('name="answer"') == 6
    assert "How did these seat?" not in text


def test_empty_practice_says_what_would_stand_there(shop: Shop) -> None:
    text = text_of(sign_in(shop, "lind").get("/practice/"))

    assert "Nothing waits for you." in text
    assert "No case of yours is in the laboratory." in text


def test_answer_is_stored_and_releases_the_work(scene: Scene) -> None:
    case = scene.case("asked")
    question = ask(case, 3)

    done = answer(
        sign_in(scene.shop, "remy"), question, answer="shade", shade="A2",
        guide="the old guide", back="practice",
    )  # fmt: skip

    question.refresh_from_db()
    assert (done.status_code, done["Location"]) == (303, reverse("cases:practice"))
    assert question.answer_note == "A2, guide: the old guide"
    case.refresh_from_db()
    assert (case.order["shade"], case.order["shade_guide"]) == ("A2", "the old guide")
    assert question.answered_how == "practice"
    assert question.holds.get().released_at == NOW


def test_refused_answer_keeps_what_was_typed(scene: Scene) -> None:
    question = ask(scene.case("asked"), 10)

    refused = answer(
        sign_in(scene.shop, "lind"), question, answer="move", teeth="16", words="as far back"
    )

    html = refused.content.decode()
    assert refused.status_code == 422
    assert "16 is in the other arch. Enter teeth of this one." in html
    assert 'value="16"' in html
    assert "as far back</textarea>" in html
    assert Question.objects.get(pk=question.pk).answered_at is None


@pytest.mark.parametrize(
    ("body", "sentence"),
    [
        ({}, "Choose one of the answers."),
        ({"answer": "moon"}, "Select a valid choice"),
        ({"answer": "move"}, "Enter the teeth."),
        ({"answer": "move", "teeth": "99"}, "99"),
        ({"answer": "other"}, "Write it in a few words."),
    ],
)
def test_answer_refuses(scene: Scene, body: dict[str, str], sentence: str) -> None:
    refused = answer(sign_in(scene.shop, "lind"), ask(scene.case("asked"), 10), **body)

    assert refused.status_code == 422
    assert sentence in text_of(refused)


def test_answer_with_a_day_refuses_one_that_is_over(shop: Shop) -> None:
    from cases.services.hold import ask_practice

    case = make_case(shop)
    ask_practice(shop.envelope("mara"), case=case.pk, number=6)
    lind = sign_in(shop, "lind")

    refused = answer(lind, ask(case, 6), answer="record", day="2026-12-08")
    stored = answer(lind, ask(case, 6), answer="record", day="2026-12-11")

    assert "That day is over." in text_of(refused)
    assert stored.status_code == 303
    assert ask(case, 6).answer_note == "Friday 11 December 2026"


def test_teeth_taken_out_are_answered_tooth_by_tooth(shop: Shop) -> None:
    from cases.services.hold import ask_practice

    case = make_case(shop)
    ask_practice(shop.envelope("mara"), case=case.pk, number=7)
    lind = sign_in(shop, "lind")

    refused = answer(lind, ask(case, 7), answer="these")
    stored = answer(lind, ask(case, 7), answer="these", tooth_31="flush", tooth_41="1mm")

    assert "Choose a depth for each tooth" in text_of(refused)
    assert stored.status_code == 303
    assert ask(case, 7).answer_note == "41: 1 mm deep; 31: Flush with the gum (FDI)"


def test_question_is_answered_once(scene: Scene) -> None:
    question = ask(scene.case("asked"), 10)
    lind = sign_in(scene.shop, "lind")
    answer(lind, question, answer="go-on")

    late = answer(lind, question, answer="shorter")

    assert late.status_code == 422
    assert ask(scene.case("asked"), 10).answer == "Go on"


def test_reception_may_not_answer_for_the_dentist(scene: Scene) -> None:
    assert answer(
        sign_in(scene.shop, "remy"), ask(scene.case("asked"), 10), answer="go-on"
    ).status_code == 404  # fmt: skip


def test_case_page_shows_order_promises_notes_and_photographs(scene: Scene) -> None:
    case = scene.case("bench")

    text = text_of(sign_in(scene.shop, "lind").get(f"/practice/{case.number}/"))

    assert "The cast is being surveyed and the design drawn." in text
    assert "On Wednesday 9 December we moved it to Tuesday 22 December." in text
    listed = text_of(sign_in(scene.shop, "lind").get("/practice/"))
    assert "It leaves on Tuesday 22 December, and not on" in listed
    assert "The cast shows everything we need." in text
    assert "The prepared cast" in text
    assert "Left at full depth for the dentist" in text


def test_moved_day_is_said_in_the_list_while_the_work_waits_too(shop: Shop) -> None:
    case = make_case(shop)
    first = case.promised_on
    assert first is not None
    for day in (first, first + timedelta(days=1), first + timedelta(days=1)):
        case.refresh_from_db()
        promise_day(
            shop.envelope("noor"), case=case.pk, version=case.version,
            ship_on=day.isoformat(), reason="Teeth are late",
        )  # fmt: skip
    case.refresh_from_db()
    lind = sign_in(shop, "lind")
    moved = rf"%s \w+ {first.day + 1} December, and not %s \w+ {first.day} December as promised"

    assert re.search(moved % ("It leaves on", "on"), text_of(lind.get("/practice/")))
    hold_case(
        shop.envelope("mara"), case=case.pk, version=case.version,
        reason="on-order", waits_for="laboratory",
    )  # fmt: skip
    assert re.search(moved % ("It is promised for", "for"), text_of(lind.get("/practice/")))


def test_order_shows_what_was_received_where_it_was_corrected(shop: Shop) -> None:
    from cases.services.correct_order import correct_order

    case = make_case(shop)
    correct_order(
        shop.envelope("noor"), case=case.pk, version=case.version,
        changes={"materials": "Heat-cured, clear"}, reason="rang",
    )  # fmt: skip

    text = text_of(sign_in(shop, "lind").get(f"/practice/{case.number}/"))

    assert f"Heat-cured, clear as received: {make_order().materials}" in text


def test_report_is_stored_by_the_dentist_and_shown(scene: Scene) -> None:
    case = scene.case("sent")
    where = reverse("cases:practice-report", args=[case.number])
    lind = sign_in(scene.shop, "lind")
    body = {
        "submission_id": str(uuid.uuid4()), "retention": "good", "support": "eased",
        "occlusion": "not-reported", "sore_spots": "good", "chairside_minutes": "15",
        "adjusted": ["border-long"], "words": "Well done",
    }  # fmt: skip

    done = lind.post(where, body)

    text = text_of(lind.get(f"/practice/{case.number}/"))
    assert done.status_code == 303
    assert InsertionReport.objects.get().seating == "eased"
    assert "Went down after easing" in text
    assert "Bite Not reported" in text
    assert "Add a further report" in text


def test_refused_report_keeps_what_was_typed(scene: Scene) -> None:
    case = scene.case("sent")
    where = reverse("cases:practice-report", args=[case.number])
    body = {
        "submission_id": str(uuid.uuid4()), "retention": "good", "support": "not-reported",
        "occlusion": "not-reported", "sore_spots": "not-reported", "chairside_minutes": "9999",
        "words": "typed words",
    }  # fmt: skip

    refused = sign_in(scene.shop, "lind").post(where, body)

    assert refused.status_code == 422
    assert "typed words</textarea>" in refused.content.decode()
    assert InsertionReport.objects.count() == 0


def test_photographs_are_served_only_when_shown_and_own(scene: Scene) -> None:
    lind, vega = sign_in(scene.shop, "lind"), sign_in(scene.shop, "vega")
    number = scene.case("bench").number

    def get(client: Client, file: str, of: str = number) -> int:
        where = reverse("cases:practice-photograph", args=[of, scene.files[file].pk])
        answered = client.get(where)
        if answered.streaming:
            assert b"".join(answered.streaming_content).startswith(b"\xff\xd8")  # type: ignore[attr-defined]
        return answered.status_code

    assert get(lind, "shown") == 200
    assert get(lind, "inside") == 404
    assert get(lind, "other") == 404
    assert get(vega, "shown") == 404
    assert get(vega, "other", of=scene.case("other").number) == 200


def test_delivery_note_is_served_once_sent(scene: Scene) -> None:
    lind = sign_in(scene.shop, "lind")

    note = lind.get(reverse("cases:practice-delivery-note", args=[scene.case("sent").number]))
    none = lind.get(reverse("cases:practice-delivery-note", args=[scene.case("bench").number]))

    assert b"".join(note.streaming_content).startswith(b"%PDF")  # type: ignore[attr-defined]
    assert none.status_code == 404


@pytest.mark.parametrize("number", ["26-0001-X", "nonsense", "26-9999-3"])
def test_mistyped_number_is_not_there(scene: Scene, number: str) -> None:
    assert sign_in(scene.shop, "lind").get(f"/practice/{number}/").status_code == 404


def test_who_works_in_the_lab_too_sees_only_the_own_practice_here(scene: Scene) -> None:
    from cases.models import PracticeMember
    from tests.factories import rows

    pavo = scene.shop.people["pavo"]
    rows(lambda record: {
        "m": record.create(PracticeMember, person=pavo, practice=scene.shop.practice),
        "p": record.change(pavo, is_dentist=True),
    })  # fmt: skip

    client = sign_in(scene.shop, "pavo")

    assert client.get(f"/practice/{scene.case('other').number}/").status_code == 404
    assert answer(client, ask(scene.case("asked"), 10), answer="go-on").status_code == 303


@pytest.mark.parametrize("cases", [1, 3, 60])
def test_practice_page_takes_the_same_queries(
    shop: Shop, cases: int, django_assert_num_queries: DjangoAssertNumQueries
) -> None:
    for n in range(cases):
        make_case(shop, ref=f"Q-{n:04d}", shade_how="")
    person = shop.people["lind"]

    with django_assert_num_queries(8):
        portal.open_questions(person)
        portal.see(portal.here_cases(person)[:30])
        portal.unreported(person)


def test_case_page_takes_the_same_queries_with_many_reports(
    scene: Scene, django_assert_max_num_queries: Any
) -> None:
    case = scene.case("sent")
    for _ in range(5):
        insert_report(scene.shop.envelope("lind", door="portal"), case=case.pk, retention="good")
    own = portal.own_cases(scene.shop.people["lind"]).get(pk=case.pk)

    with django_assert_max_num_queries(12):
        portal.case_for_practice(own)


@pytest.mark.browser
@pytest.mark.django_db(transaction=True)
def test_dentist_answers_a_question_in_the_browser(
    scene: Scene, page: Page, live_server: LiveServer
) -> None:
    number = scene.case("asked").number
    page.goto(f"{live_server.url}/sign-in/?next=/practice/")
    page.get_by_label("User name").fill("lind")
    page.get_by_label("Password").fill("lind-pass-2026")
    page.get_by_role("button", name="Sign in").click()
    page.wait_for_url("**/practice/", wait_until="load")
    card = page.get_by_role("article", name="A clasp on 35 would show.")
    assert not card.get_by_label("Which teeth").is_visible()

    card.get_by_label("Move it to …").check()
    card.get_by_label("Which teeth").fill("34")
    card.get_by_role("button", name="Send this answer").click()

    page.get_by_text("Your answer on Q-1202 is stored.").wait_for()
    page.goto(f"{live_server.url}/practice/{number}/")
    assert page.get_by_text("Move it to …: 34").is_visible()
