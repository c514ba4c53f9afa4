"""The small pages of a case: done, refused with what was typed, and not offered to others."""

from __future__ import annotations

import io
from datetime import date
from typing import Any

import pytest
from django.test import Client
from django.urls import reverse
from PIL import Image

from cases.domain.order import Item
from cases.models import Case, Hold, Question
from cases.services.hold import ask_practice, hold_case
from tests.factories import NOW, Shop
from tests.views.case.conftest import SignIn, case_at, entries, url

pytestmark = pytest.mark.django_db


def send(client: Client, address: str, **typed: Any) -> Any:
    return client.post(address, entries(**typed))


def test_note_from_the_telephone_says_who_rang(shop: Shop, sign_in: SignIn) -> None:
    case = case_at(shop)

    response = send(sign_in("mara"), url("case-note", case), text="Sooner", from_whom="Remy")

    assert (response.status_code, response["Location"]) == (303, url("case", case) + "#notes")
    note = case.notes.get()
    assert (note.kind, note.from_whom, note.text) == ("telephone", "Remy", "Sooner")


def test_empty_note_is_refused_beside_its_field(shop: Shop, sign_in: SignIn) -> None:
    case = case_at(shop)

    response = send(sign_in("mara"), url("case-note", case), text="", from_whom="Remy")

    assert response.status_code == 422
    assert "Fill this in; it is needed." in response.content.decode()
    assert 'value="Remy"' in response.content.decode()


def test_same_form_twice_writes_one_note(shop: Shop, sign_in: SignIn) -> None:
    case = case_at(shop)
    client, typed = sign_in("mara"), entries(text="Once")

    client.post(url("case-note", case), typed)
    client.post(url("case-note", case), typed)

    assert case.notes.count() == 1


def test_photograph_is_stored_for_the_lab_only_unless_chosen(shop: Shop, sign_in: SignIn) -> None:
    case = case_at(shop)
    data = io.BytesIO()
    Image.new("RGB", (40, 30)).save(data, "JPEG")
    data.seek(0)
    data.name = "photo.jpg"

    response = send(sign_in("mara"), url("case-photograph", case), photo=data, words="Wax")

    assert response.status_code == 303
    file = case.files.get()
    assert (file.kind, file.words, file.visible_to_practice) == ("photo", "Wax", False)


def test_upload_that_is_no_picture_is_refused_in_words(shop: Shop, sign_in: SignIn) -> None:
    case = case_at(shop)
    data = io.BytesIO(b"not a picture")
    data.name = "photo.jpg"

    response = send(sign_in("mara"), url("case-photograph", case), photo=data, words="Wax")

    assert response.status_code == 422
    assert "This is not a picture that can be read." in response.content.decode()
    assert 'value="Wax"' in response.content.decode()


def test_listed_question_is_asked_with_its_tooth(shop: Shop, sign_in: SignIn) -> None:
    case = case_at(shop)
    client = sign_in("mara")
    assert "A clasp on … would show." in client.get(url("case-ask-list", case)).content.decode()

    response = send(client, url("case-ask", case, 10), tooth="44")

    assert response.status_code == 303
    question = Question.objects.get()
    assert (question.words, question.subject) == ("A clasp on 44 (FDI) would show.", "44")


def test_the_tooth_of_a_question_is_written_and_read_in_the_own_numbering(
    shop: Shop, sign_in: SignIn
) -> None:
    case = case_at(shop)
    client = sign_in("mara")
    address = url("case-ask", case, 10)
    for label in ("44", "LR4"):  # no number of Universal
        assert send(client, address, tooth=label, notation="universal").status_code == 422
    send(client, address, tooth="28", notation="universal")

    assert Question.objects.get().words == "A clasp on 44 (FDI) would show."
    dentist = sign_in("lind")
    page = dentist.get(reverse("cases:practice-case", args=[case.number])).content.decode()
    assert "A clasp on 44 would show." in page
    dentist.post(reverse("cases:account"), {"numbering": "palmer"})
    page = dentist.get(reverse("cases:practice-case", args=[case.number])).content.decode()
    assert "A clasp on LR4 would show." in page


def test_question_in_own_words_needs_words(shop: Shop, sign_in: SignIn) -> None:
    case = case_at(shop)
    client = sign_in("mara")

    refused = send(client, url("case-ask", case, 0), words=" ")
    asked = send(client, url("case-ask", case, 0), words="Is {this} tooth loose?")

    assert (refused.status_code, asked.status_code) == (422, 303)
    assert Question.objects.get().words == "Is {this} tooth loose?"


def test_telephone_answer_says_who_rang_and_releases_the_hold(shop: Shop, sign_in: SignIn) -> None:
    case = case_at(shop)
    pk = ask_practice(shop.envelope("mara"), case=case.pk, number=16).result["question"]
    client = sign_in("noor")

    refused = send(client, url("question-answer", case, pk), answer="yes", rang="")
    done = send(client, url("question-answer", case, pk), answer="yes", rang="Remy")

    assert (refused.status_code, done.status_code) == (422, 303)
    question = Question.objects.get()
    assert (question.answer, question.answered_how) == ("Yes", "telephone")
    assert not Hold.objects.filter(released_at__isnull=True).exists()


def test_telephone_answer_asks_for_the_day_it_needs(shop: Shop, sign_in: SignIn) -> None:
    case = case_at(shop)
    pk = ask_practice(shop.envelope("mara"), case=case.pk, number=22).result["question"]
    client = sign_in("noor")

    blank = client.get(url("question-answer", case, pk)).content.decode()
    refused = send(client, url("question-answer", case, pk), answer="new-day", rang="Remy")
    done = send(
        client, url("question-answer", case, pk), answer="new-day", day="2027-01-12", rang="Remy"
    )

    assert 'type="date" name="day"' in blank
    assert "Enter the day." in refused.content.decode()
    case.refresh_from_db()
    assert (done.status_code, case.appointment_on) == (303, date(2027, 1, 12))


def test_answer_that_nobody_can_enter_by_itself_is_settled_in_words(
    shop: Shop, sign_in: SignIn
) -> None:
    case = case_at(shop)
    pk = ask_practice(shop.envelope("mara"), case=case.pk, number=18).result["question"]
    noor = sign_in("noor")
    send(noor, url("question-answer", case, pk), answer="old-piece", rang="Remy")

    shown = noor.get(url("case", case)).content.decode()
    refused = send(noor, url("answer-settle", case, pk), words=" ")
    done = send(noor, url("answer-settle", case, pk), words="Mara has the old piece")
    after = noor.get(url("case", case)).content.decode()

    address = url("answer-settle", case, pk)
    assert f'<a class="action" href="{address}">Look at the answer</a>' in shown
    assert (refused.status_code, done.status_code) == (422, 303)
    assert "Look at the answer" not in after
    assert "Mara has the old piece" in after
    assert noor.get(address).status_code == 404


def test_question_of_another_case_is_not_answered_here(shop: Shop, sign_in: SignIn) -> None:
    case, other = case_at(shop), case_at(shop, ref="Q-2")
    pk = ask_practice(shop.envelope("mara"), case=other.pk, number=16).result["question"]

    assert sign_in("noor").get(url("question-answer", case, pk)).status_code == 404


def test_question_is_taken_back(shop: Shop, sign_in: SignIn) -> None:
    case = case_at(shop)
    pk = ask_practice(shop.envelope("mara"), case=case.pk, number=16).result["question"]

    send(sign_in("noor"), url("question-withdraw", case, pk), words="Found on the cast.")

    assert Question.objects.get().withdrawn_at == NOW


def test_hold_says_why_and_for_whom_and_is_released(shop: Shop, sign_in: SignIn) -> None:
    case = case_at(shop)
    client = sign_in("noor")

    refused = send(client, url("case-hold", case), waits_for="supplier", words="Until paid")
    send(client, url("case-hold", case), reason="on-order", waits_for="supplier",
         stages=["teeth"], version=case.version)  # fmt: skip
    hold = Hold.objects.get()
    send(client, url("hold-release", case, hold.pk), words="They came")

    assert refused.status_code == 422
    assert (hold.reason, hold.waits_for, hold.stages) == ("on-order", "supplier", ["teeth"])
    assert not Hold.objects.filter(released_at__isnull=True).exists()


def test_hold_says_until_when_it_is_expected_to_last(shop: Shop, sign_in: SignIn) -> None:
    case = case_at(shop)

    done = send(sign_in("noor"), url("case-hold", case), reason="on-order",
                expected_on="2026-12-14", version=case.version)  # fmt: skip

    assert done.status_code == 303
    assert Hold.objects.get().expected_on == date(2026, 12, 14)
    shown = sign_in("noor").get(url("case", case)).content.decode()
    assert "expected until Monday 14 December" in shown


@pytest.mark.parametrize(
    ("day", "words"),
    [
        ("2026-12-08", "That day is over. Choose a day to come."),
        ("soon", "Enter a day, or leave it empty."),
    ],
)
def test_hold_until_a_day_that_cannot_be_is_refused_beside_the_field(
    shop: Shop, sign_in: SignIn, day: str, words: str
) -> None:
    case = case_at(shop)

    refused = send(sign_in("noor"), url("case-hold", case), reason="on-order", words="Tray 4",
                   expected_on=day, version=case.version)  # fmt: skip

    page = refused.content.decode()
    assert refused.status_code == 422
    assert words in page
    assert 'value="Tray 4"' in page
    assert not Hold.objects.exists()


@pytest.mark.parametrize(
    ("reason", "waits_for"), [("account", "practice"), ("on-order", "supplier")]
)
def test_hold_waits_for_whom_its_reason_usually_does(
    shop: Shop, sign_in: SignIn, reason: str, waits_for: str
) -> None:
    case = case_at(shop)

    send(sign_in("noor"), url("case-hold", case), reason=reason, version=case.version)

    assert Hold.objects.get().waits_for == waits_for


def test_stale_form_is_refused_and_keeps_what_was_typed(shop: Shop, sign_in: SignIn) -> None:
    case = case_at(shop)
    hold_case(
        shop.envelope("mara"), case=case.pk, version=case.version,
        reason="account", waits_for="practice",
    )  # fmt: skip

    response = send(sign_in("noor"), url("case-promise", case), ship_on="2026-12-21",
                    reason="Earlier", version=case.version)  # fmt: skip

    assert response.status_code == 422
    body = response.content.decode()
    assert "was changed by somebody else meanwhile" in body
    assert 'value="Earlier"' in body


def test_day_is_moved_with_a_reason(shop: Shop, sign_in: SignIn) -> None:
    case = case_at(shop)
    client = sign_in("noor")

    refused = send(client, url("case-promise", case), ship_on="2026-12-18", version=case.version)
    send(client, url("case-promise", case), ship_on="2026-12-18", reason="Sooner",
         version=case.version)  # fmt: skip

    assert refused.status_code == 422
    assert "Say why the day moves." in refused.content.decode()
    assert [p.ship_on.isoformat() for p in case.promises.all()] == ["2026-12-21", "2026-12-18"]


def test_stage_is_given_to_somebody_with_the_skill(shop: Shop, sign_in: SignIn) -> None:
    case = case_at(shop)
    stage = case.stages.get(key="wax")

    send(sign_in("noor"), url("stage-assign", case, stage.pk), version=stage.version,
         person=shop.people["oren"].pk)  # fmt: skip

    stage.refresh_from_db()
    assert stage.assignee == shop.people["oren"]


def test_desk_sends_back_and_what_follows_is_done_again(shop: Shop, sign_in: SignIn) -> None:
    case = case_at(shop, "clasps")

    response = send(
        sign_in("noor"), url("case-send-back", case), to="survey", reason="undercut-open",
        standing=["mount"], standing_why="The mounting is true.",
    )  # fmt: skip

    assert response.status_code == 303
    states = dict(case.stages.filter(key__in=["survey", "mount"]).values_list("key", "state"))
    assert states == {"survey": "planned", "mount": "done"}


def test_send_back_with_another_reason_needs_words(shop: Shop, sign_in: SignIn) -> None:
    case = case_at(shop, "clasps")

    response = send(sign_in("noor"), url("case-send-back", case), to="survey", reason="other")

    assert response.status_code == 422
    assert case.stages.get(key="survey").state == "done"


def test_case_is_closed_unfinished_by_the_desk_only(shop: Shop, sign_in: SignIn) -> None:
    case = case_at(shop)

    assert sign_in("mara").get(url("case-cancel", case)).status_code == 404
    send(sign_in("noor"), url("case-cancel", case), reason="Not wanted", version=case.version)

    case.refresh_from_db()
    assert (case.state, case.closed_reason) == ("cancelled", "Not wanted")


def test_thing_is_put_away_and_gone(shop: Shop, sign_in: SignIn) -> None:
    case, other = case_at(shop, "trim"), case_at(shop, ref="Q-2")
    cast = case.things.get(label="working")
    client = sign_in("mara")

    assert client.get(url("thing-put", other, cast.pk)).status_code == 404
    send(client, url("thing-put", case, cast.pk), place="Shelf 3")
    assert "Shelf 3" in client.get(url("case", case)).content.decode()
    send(client, url("thing-gone", case, cast.pk), reason="Broke")

    cast.refresh_from_db()
    assert (cast.place, cast.state) == ("Shelf 3", "gone")


def test_what_follows_later_has_come(shop: Shop, sign_in: SignIn) -> None:
    case = case_at(
        shop,
        items=(
            Item("working", "impression", material="alginate", taken_at=NOW.replace(day=3)),
            Item("opposing", "impression", follows_later=True),
        ),
    )
    row = case.received.get(item="opposing")
    client = sign_in("noor")

    late = send(client, url("received-came", case, row.pk), taken_at="2026-12-09T23:00")
    send(client, url("received-came", case, row.pk), material="alginate",
         taken_at="2026-12-09T10:30")  # fmt: skip

    assert late.status_code == 422
    row.refresh_from_db()
    assert (row.state, row.material) == ("here", "alginate")


def test_order_is_corrected_with_a_reason(shop: Shop, sign_in: SignIn) -> None:
    case = case_at(shop)
    client = sign_in("noor")
    typed = stands(client, case) | {"shade": "A3", "shade_how": "named"}

    refused = send(client, url("order-correct", case), **typed)
    done = send(client, url("order-correct", case), **typed, reason="Mistyped")

    assert (refused.status_code, done.status_code) == (422, 303)
    case.refresh_from_db()
    assert case.order["shade"] == "A3"
    assert case.order["allergies"] == ["none-known"]


def test_unchanged_order_form_changes_nothing(shop: Shop, sign_in: SignIn) -> None:
    case = case_at(shop)
    client = sign_in("noor")

    response = send(client, url("order-correct", case), **stands(client, case), reason="Nothing")

    assert response.status_code == 422
    assert "Nothing was changed." in response.content.decode()


def stands(client: Client, case: Case) -> dict[str, Any]:
    """Return the entries of the correction page as a browser would send them untouched."""
    form = client.get(url("order-correct", case)).context["form"]
    typed: dict[str, Any] = {"version": case.version}
    for field in form:
        value = field.value()
        if field.name != "reason" and value not in (None, False, ""):
            typed[field.html_name] = field.field.widget.format_value(value) if not isinstance(
                value, list
            ) and hasattr(field.field.widget, "format_value") and field.widget_type in {
                "date", "time"
            } else value  # fmt: skip
    return {name: "on" if value is True else value for name, value in typed.items()}


def test_change_of_mind_is_confirmed_in_writing_first(shop: Shop, sign_in: SignIn) -> None:
    case = case_at(shop)
    stage = case.stages.get(key="teeth")

    send(sign_in("noor"), url("order-change", case), change="Shade A1", rang="Remy",
         stage=stage.pk, version=case.version)  # fmt: skip

    assert Question.objects.get().number == 25
    assert Hold.objects.get().stages == ["teeth"]


def test_new_impression_voids_the_casts(shop: Shop, sign_in: SignIn) -> None:
    case = case_at(shop, "trim")

    response = send(
        sign_in("noor"), url("case-new-impression", case), working_form="impression",
        working_material="alginate", working_taken_at="2026-12-09T10:38", done="not-known",
        words="Torn", version=case.version,
    )  # fmt: skip

    assert response.status_code == 303
    assert case.things.get(label="working").state == "void"
    case.refresh_from_db()
    assert case.taken_at is not None
    assert case.taken_at.isoformat() == "2026-12-09T09:38:00+00:00"


def test_remake_opens_a_linked_case_and_the_first_shows_it(shop: Shop, sign_in: SignIn) -> None:
    case = case_at(shop)
    client = sign_in("noor")

    response = send(
        client, url("case-remake", case), reason="wrong-bite", origin="bench",
        start="kept-master", appointment_on="2026-12-23", done="not-known", version=case.version,
    )  # fmt: skip

    made = Case.objects.exclude(pk=case.pk).get()
    assert response["Location"] == url("case", made)
    assert made.number in client.get(url("case", case)).content.decode()
    assert "Made again because: wrong bite." in client.get(url("case", made)).content.decode()


@pytest.mark.parametrize("name", ["order-correct", "case-new-impression", "case-promise"])
def test_desk_pages_are_not_there_for_technicians(shop: Shop, sign_in: SignIn, name: str) -> None:
    assert sign_in("mara").get(url(name, case_at(shop))).status_code == 404


def test_manager_leaves_a_stage_out_with_the_reason_on_the_case(
    shop: Shop, sign_in: SignIn
) -> None:
    case = case_at(shop, "pour")
    trim = case.stages.get(key="trim")
    manager = sign_in("pavo")
    assert url("stage-skip", case, trim.pk) in manager.get(url("case", case)).content.decode()

    response = send(
        manager, url("stage-skip", case, trim.pk),
        version=trim.version, reason="no-time", words="Pavo decided",
    )  # fmt: skip

    trim.refresh_from_db()
    assert (response.status_code, trim.state, trim.words) == (303, "skipped", "Pavo decided")
    assert "Pavo decided" in manager.get(url("case", case)).content.decode()


def test_reason_of_a_skip_that_needs_words_asks_for_them(shop: Shop, sign_in: SignIn) -> None:
    case = case_at(shop, "pour")
    trim = case.stages.get(key="trim")

    response = send(
        sign_in("pavo"), url("stage-skip", case, trim.pk), version=trim.version, reason="no-time"
    )

    trim.refresh_from_db()
    assert (response.status_code, trim.state) == (422, "planned")
    assert "This reason needs a few words." in response.content.decode()


def test_desk_is_not_offered_to_leave_a_stage_out(shop: Shop, sign_in: SignIn) -> None:
    case = case_at(shop, "pour")
    trim = case.stages.get(key="trim")
    desk = sign_in("noor")

    assert url("stage-skip", case, trim.pk) not in desk.get(url("case", case)).content.decode()
    assert desk.get(url("stage-skip", case, trim.pk)).status_code == 404


def test_stage_that_is_never_skipped_is_refused_in_words(shop: Shop, sign_in: SignIn) -> None:
    case = case_at(shop, "pour")
    survey = case.stages.get(key="survey")
    manager = sign_in("pavo")
    assert url("stage-skip", case, survey.pk) not in manager.get(url("case", case)).content.decode()

    response = send(
        manager, url("stage-skip", case, survey.pk), version=survey.version, reason="not-ordered"
    )

    assert "is never skipped" in response.content.decode()
