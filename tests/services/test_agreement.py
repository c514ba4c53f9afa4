"""A design that alters what was agreed: the practice is asked, refuses, agrees; work waits."""

from __future__ import annotations

from datetime import timedelta
from typing import Any

import pytest

from cases.models import Case, Question
from cases.services.answer import answer_question, settle_answer
from cases.services.correct_order import correct_order
from cases.services.design import set_design
from cases.services.hold import ask_practice, release_hold, withdraw_question
from cases.services.record import Refusal
from cases.services.send_back import send_back
from cases.services.stage import start_stage
from cases.services.verify_record import verify_record
from tests.factories import DESIGN, NOW, Shop, clasped_in_front, make_case, make_shop
from tests.walk import Clock, free_things, walk

pytestmark = pytest.mark.django_db

IN_FRONT = clasped_in_front()
"""The clasp of 45 comes on 43: a front tooth."""
FEWER_TOO = {**IN_FRONT, "replaced": [36, 37, 46]}
STANDS = {"survey": "The cast shows it", "block-out": "Nothing more to block out"}


@pytest.fixture
def shop() -> Shop:
    return make_shop()


@pytest.fixture
def clock() -> Clock:
    return Clock(NOW)


def at(shop: Shop, clock: Clock, last: str = "block-out") -> Case:
    """A case whose stages are done up to and with ``last``; version 2 of its design is finished."""
    case = make_case(shop)
    walk(shop, case, clock, until=last)
    case.refresh_from_db()
    return case


def change(shop: Shop, case: Case, clock: Clock, data: dict[str, Any], **how: Any) -> Any:
    case.refresh_from_db()
    done = {stage.key for stage in case.stages.filter(state="done")}
    standing = {key: why for key, why in STANDS.items() if key in done}
    return set_design(
        shop.envelope("mara", now=clock.now),
        case=case.pk,
        version=case.version,
        data=data,
        **{"reason": "Asked for", "asked_by": "practice", "standing": standing, **how},
    ).result["question"]


def answer(shop: Shop, clock: Clock, question: int, key: str, **more: Any) -> Question:
    answer_question(shop.envelope("lind", now=clock.now), question=question, answer=key, **more)
    return Question.objects.get(pk=question)


def held(case: Case) -> set[str]:
    return {key for hold in case.holds.filter(released_at__isnull=True) for key in hold.stages}


def test_a_refused_change_does_not_go_on_in_the_work(shop: Shop, clock: Clock) -> None:
    case = at(shop, clock)
    asked = change(shop, case, clock, IN_FRONT)
    waits = held(case)
    row = answer(shop, clock, asked, "keep")

    assert held(case) == waits != set()
    hold = case.holds.get(released_at__isnull=True)
    assert (hold.reason, hold.waits_for, hold.question_id) == ("design-back", "laboratory", asked)
    assert "back to version 2" in hold.words
    assert (row.awaits, row.awaits_why) == ("design", "refused")
    with pytest.raises(Refusal) as refused:
        release_hold(shop.envelope("noor", now=clock.now), hold=hold.pk, words="Go on")
    assert refused.value.code == "not-agreed"
    settle_answer(shop.envelope("noor", now=clock.now), question=asked, words="Read")
    assert held(case) == waits
    assert verify_record() == []


def test_a_milk_tooth_is_asked_about_by_its_own_number(shop: Shop, clock: Clock) -> None:
    case = at(shop, clock)
    asked = change(shop, case, clock, {**IN_FRONT, "primary": [43]})
    words = Question.objects.get(pk=asked).words

    assert "A clasp comes on a front tooth: 83 (FDI)" in words
    assert "43" not in words


def test_going_back_to_what_was_agreed_asks_nothing_and_lets_go(shop: Shop, clock: Clock) -> None:
    case = at(shop, clock)
    asked = change(shop, case, clock, IN_FRONT)
    answer(shop, clock, asked, "keep")

    assert change(shop, case, clock, DESIGN) is None
    assert held(case) == set()
    assert Question.objects.get(pk=asked).settled_at is not None
    assert not case.questions.filter(answered_at=None, withdrawn_at=None).exists()
    assert verify_record() == []


def test_going_back_before_the_answer_takes_the_question_back(shop: Shop, clock: Clock) -> None:
    case = at(shop, clock)
    asked = change(shop, case, clock, IN_FRONT)

    assert change(shop, case, clock, DESIGN) is None
    assert held(case) == set()
    assert Question.objects.get(pk=asked).withdrawn_at is not None
    with pytest.raises(Refusal) as refused:
        answer(shop, clock, asked, "confirm")
    assert refused.value.code == "withdrawn"


def test_a_refused_change_is_asked_again_only_where_it_is_another(shop: Shop, clock: Clock) -> None:
    case = at(shop, clock)
    asked = change(shop, case, clock, IN_FRONT)
    answer(shop, clock, asked, "keep")
    waits = held(case)

    longer = [IN_FRONT["clasps"][0], {**IN_FRONT["clasps"][1], "free_arm_mm": 11.0}]
    assert change(shop, case, clock, {**IN_FRONT, "clasps": longer}) is None
    assert held(case) == waits
    again = change(shop, case, clock, FEWER_TOO)
    assert again not in (None, asked)
    (hold,) = case.holds.filter(released_at__isnull=True)
    assert (hold.reason, hold.waits_for, hold.question_id) == ("agreement", "practice", again)
    assert verify_record() == []


def test_a_second_alteration_is_asked_with_the_first(shop: Shop, clock: Clock) -> None:
    case = at(shop, clock)
    first = change(shop, case, clock, IN_FRONT)
    second = change(shop, case, clock, FEWER_TOO)

    assert Question.objects.get(pk=first).withdrawn_at is not None
    (row,) = case.questions.filter(number=25, answered_at=None, withdrawn_at=None)
    assert row.pk == second
    assert "Fewer teeth are replaced: 47" in row.words
    assert "A clasp comes on a front tooth: 43" in row.words
    (hold,) = case.holds.filter(released_at__isnull=True)
    assert hold.question_id == second
    answer(shop, clock, second, "confirm")
    assert held(case) == set()
    assert verify_record() == []


def test_a_change_by_the_bench_beside_one_by_the_practice_is_asked_as_a_drawing(
    shop: Shop, clock: Clock
) -> None:
    case = at(shop, clock)
    first = change(shop, case, clock, IN_FRONT, asked_by="lab")
    second = change(shop, case, clock, FEWER_TOO)
    assert {Question.objects.get(pk=pk).number for pk in (first, second)} == {9}


def test_what_was_agreed_to_is_what_the_next_change_is_held_against(
    shop: Shop, clock: Clock
) -> None:
    case = at(shop, clock)
    answer(shop, clock, change(shop, case, clock, IN_FRONT), "confirm")
    assert held(case) == set()

    assert change(shop, case, clock, {**IN_FRONT, "hollowed": [36]}) is None
    back = change(shop, case, clock, FEWER_TOO)
    assert [one["key"] for one in Question.objects.get(pk=back).alters] == ["fewer-teeth"]


@pytest.mark.parametrize(
    ("key", "more"),
    [
        ("yes-but", {"note": "not so thick"}),
        ("other", {"note": "Rather not"}),
        ("keep", {}),
    ],
)
def test_only_a_yes_lets_a_changed_drawing_go_on(
    shop: Shop, clock: Clock, key: str, more: dict[str, str]
) -> None:
    case = at(shop, clock)
    asked = change(shop, case, clock, IN_FRONT, asked_by="lab")
    waits = held(case)
    row = answer(shop, clock, asked, key, **more)
    assert held(case) == waits
    assert row.awaits == "design"


def test_a_version_that_minds_a_yes_but_is_asked_anew(shop: Shop, clock: Clock) -> None:
    case = at(shop, clock)
    asked = change(shop, case, clock, IN_FRONT, asked_by="lab")
    answer(shop, clock, asked, "yes-but", note="a thinner wire")
    thinner = [IN_FRONT["clasps"][0], {**IN_FRONT["clasps"][1], "wire_mm": 0.8}]
    again = change(shop, case, clock, {**IN_FRONT, "clasps": thinner}, asked_by="lab")
    assert again not in (None, asked)
    (hold,) = case.holds.filter(released_at__isnull=True)
    assert (hold.question_id, hold.waits_for) == (again, "practice")
    assert Question.objects.get(pk=asked).settled_at is not None


def test_who_was_rung_is_asked_the_same_again(shop: Shop, clock: Clock) -> None:
    case = at(shop, clock)
    asked = change(shop, case, clock, IN_FRONT, asked_by="lab")
    waits = held(case)
    answer(shop, clock, asked, "ring-me")
    settle_answer(shop.envelope("noor", now=clock.now), question=asked, words="Rang them")

    (row,) = case.questions.filter(number=9, answered_at=None, withdrawn_at=None)
    assert (row.words, held(case)) == (Question.objects.get(pk=asked).words, waits)
    answer_question(
        shop.envelope("noor", now=clock.now), question=row.pk, answer="yes", rang="Dr Example"
    )
    assert held(case) == set()
    assert verify_record() == []


def test_a_question_about_a_change_is_taken_back_with_the_change_alone(
    shop: Shop, clock: Clock
) -> None:
    case = at(shop, clock)
    asked = change(shop, case, clock, IN_FRONT)
    with pytest.raises(Refusal) as refused:
        withdraw_question(shop.envelope("noor", now=clock.now), question=asked, words="No need")
    assert refused.value.code == "not-agreed"


def test_a_yes_to_a_drawing_asked_by_hand_ends_a_refusal(shop: Shop, clock: Clock) -> None:
    case = at(shop, clock)
    answer(shop, clock, change(shop, case, clock, IN_FRONT), "keep")
    by_hand = ask_practice(shop.envelope("noor", now=clock.now), case=case.pk, number=9).result[
        "question"
    ]
    answer(shop, clock, by_hand, "yes")
    assert held(case) == set()


def test_keeping_the_order_where_no_design_was_changed_lets_go(shop: Shop, clock: Clock) -> None:
    case = at(shop, clock)
    stage = case.stages.get(key="mount")
    asked = ask_practice(
        shop.envelope("noor", now=clock.now), case=case.pk, number=25, stage=stage.pk
    ).result["question"]
    assert held(case) == {"mount"}
    row = answer(shop, clock, asked, "keep")
    assert (held(case), row.awaits) == (set(), "")


def test_every_unfinished_stage_that_looks_at_the_change_waits_and_the_rest_goes_on(
    shop: Shop, clock: Clock
) -> None:
    case = at(shop, clock)
    change(shop, case, clock, IN_FRONT)
    assert held(case) == {"clasps", "wax", "wax-pass"}

    def begin(key: str) -> None:
        stage = case.stages.get(key=key)
        clock.now = max(clock.now, stage.ready_at)
        start_stage(
            shop.envelope("mara", now=clock.now), stage=stage.pk, version=stage.version,
            things_used=free_things(),
        )  # fmt: skip

    with pytest.raises(Refusal) as refused:
        begin("clasps")
    assert refused.value.code == "on-hold"
    begin("mount")


def test_work_in_hand_that_looks_at_the_change_is_put_down(shop: Shop, clock: Clock) -> None:
    case = at(shop, clock)
    clasps = case.stages.get(key="clasps")
    clock.now = max(clock.now, clasps.ready_at)
    start_stage(shop.envelope("mara", now=clock.now), stage=clasps.pk, version=clasps.version)
    change(shop, case, clock, IN_FRONT)
    clasps.refresh_from_db()
    assert clasps.state == "paused"


def test_a_stage_that_is_opened_again_waits_as_well(shop: Shop, clock: Clock) -> None:
    case = at(shop, clock)
    asked = change(shop, case, clock, IN_FRONT)
    assert "block-out" not in held(case)
    row = case.stages.get(key="block-out")
    send_back(
        shop.envelope("mara", now=clock.now), stage=row.pk, version=row.version,
        to="block-out", reason="other", words="A ledge",
    )  # fmt: skip
    assert "block-out" in held(case)
    answer(shop, clock, asked, "confirm")
    assert held(case) == set()
    assert verify_record() == []


def test_where_all_that_looks_at_it_is_over_nothing_further_is_begun(
    shop: Shop, clock: Clock
) -> None:
    case = at(shop, clock, "wax-pass")
    over = {stage.key: "It stands" for stage in case.stages.filter(state="done")}
    change(shop, case, clock, IN_FRONT, standing=over)
    assert held(case) == {"flask-lower"}


def test_a_clasp_that_comes_to_show_is_asked_and_an_earlier_yes_does_not_cover_it(
    shop: Shop, clock: Clock
) -> None:
    case = at(shop, clock)
    drawing = ask_practice(shop.envelope("noor", now=clock.now), case=case.pk, number=9)
    answer(shop, clock, drawing.result["question"], "yes")
    shows = [{**DESIGN["clasps"][0], "shows": True}, DESIGN["clasps"][1]]
    asked = change(shop, case, clock, {**DESIGN, "clasps": shows}, asked_by="lab")
    assert "A clasp shows in front: 35" in Question.objects.get(pk=asked).words
    assert {"clasps", "wax"} <= held(case)


def test_who_agreed_to_a_draft_is_not_asked_to_agree_to_the_same_finished(
    shop: Shop, clock: Clock
) -> None:
    shows = [{**DESIGN["clasps"][0], "shows": True}, DESIGN["clasps"][1]]
    seen = {**DESIGN, "clasps": shows}
    for agreed in (False, True):
        case = make_case(shop, ref=f"Q-118{agreed:d}")
        walk(shop, case, clock, until="trim")
        change(shop, case, clock, seen, draft=True)
        if agreed:
            asked = ask_practice(shop.envelope("noor", now=clock.now), case=case.pk, number=9)
            answer(shop, clock, asked.result["question"], "yes")
        change(shop, case, clock, seen)
        assert case.stages.filter(key="agree", state="planned").exists() is not agreed


def test_a_confirmation_promised_on_the_telephone_lets_nothing_go_until_it_is_here(
    shop: Shop, clock: Clock
) -> None:
    case = at(shop, clock)
    asked = change(shop, case, clock, IN_FRONT)
    waits = held(case)
    desk = {"now": clock.now}
    answer_question(shop.envelope("noor", **desk), question=asked, answer="confirm", rang="Remy")
    row = Question.objects.get(pk=asked)
    assert (row.awaits, row.awaits_why) == ("written", "in-writing")
    assert held(case) == waits != set()
    hold = case.holds.get(released_at__isnull=True)
    assert hold.waits_for == "practice"
    with pytest.raises(Refusal) as refused:
        release_hold(shop.envelope("noor", **desk), hold=hold.pk, words="Go on")
    assert refused.value.code == "not-agreed"
    assert change(shop, case, clock, {**IN_FRONT, "occlusion": "Deep bite"}) is None
    assert held(case) == waits

    settle_answer(shop.envelope("noor", **desk), question=asked, words="Their letter of today")
    row.refresh_from_db()
    assert held(case) == set()
    assert (row.awaits, row.awaits_why, row.settled_at) == ("order", "words", None)
    assert row.answer_note == "(Remy); Their letter of today"
    assert verify_record() == []


def test_a_promise_that_is_overtaken_by_another_change_is_no_yes(shop: Shop, clock: Clock) -> None:
    case = at(shop, clock)
    first = change(shop, case, clock, IN_FRONT)
    answer_question(
        shop.envelope("noor", now=clock.now), question=first, answer="confirm", rang="Remy"
    )
    second = change(shop, case, clock, FEWER_TOO)
    alters = Question.objects.get(pk=second).alters
    assert {one["key"] for one in alters} >= {"fewer-teeth", "clasp-in-front"}


def test_a_change_of_the_order_waits_for_the_confirmation_that_was_promised(
    shop: Shop, clock: Clock
) -> None:
    case = at(shop, clock)
    stage = case.stages.get(key="mount")
    desk = {"now": clock.now}
    asked = ask_practice(
        shop.envelope("noor", **desk), case=case.pk, number=25, stage=stage.pk
    ).result["question"]
    answer_question(shop.envelope("noor", **desk), question=asked, answer="confirm", rang="Remy")
    assert held(case) == {"mount"}
    settle_answer(shop.envelope("noor", **desk), question=asked, words="Their letter of today")
    assert held(case) == set()


def correct(shop: Shop, case: Case, clock: Clock, **changes: Any) -> None:
    case.refresh_from_db()
    correct_order(
        shop.envelope("noor", now=clock.now), case=case.pk, version=case.version,
        changes=changes, reason="The practice wrote",
    )  # fmt: skip


def test_what_the_order_was_corrected_to_say_is_asked_no_more(shop: Shop, clock: Clock) -> None:
    case = at(shop, clock)
    fewer = {**DESIGN, "replaced": [36, 37, 46]}
    change(shop, case, clock, fewer)
    assert held(case)
    clock.now += timedelta(minutes=1)
    correct(shop, case, clock, replaces=[36, 37, 46])
    assert held(case) == set()
    assert not case.questions.filter(answered_at=None, withdrawn_at=None).exists()
    assert verify_record() == []


def test_a_design_that_follows_a_corrected_order_asks_nothing(shop: Shop, clock: Clock) -> None:
    case = at(shop, clock)
    clock.now += timedelta(minutes=1)
    correct(shop, case, clock, replaces=[36, 37, 46])
    assert change(shop, case, clock, {**DESIGN, "replaced": [36, 37, 46]}) is None
    # What the order says now is what another design is held against.
    assert change(shop, case, clock, DESIGN) is not None


def test_a_correction_asks_on_about_what_it_does_not_say(shop: Shop, clock: Clock) -> None:
    case = at(shop, clock)
    first = change(shop, case, clock, FEWER_TOO)
    clock.now += timedelta(minutes=1)
    correct(shop, case, clock, replaces=[36, 37, 46])
    row = case.questions.get(answered_at=None, withdrawn_at=None)
    assert row.pk != first
    assert "fewer-teeth" not in {one["key"] for one in row.alters}
    assert "clasp-in-front" in {one["key"] for one in row.alters}


def test_an_order_older_than_the_yes_is_not_held_against_the_design(
    shop: Shop, clock: Clock
) -> None:
    case = at(shop, clock)
    fewer = {**DESIGN, "replaced": [36, 37, 46]}
    answer(shop, clock, change(shop, case, clock, fewer), "confirm")
    assert change(shop, case, clock, DESIGN) is not None


def test_a_correction_that_is_taken_back_leaves_the_design_as_agreed(
    shop: Shop, clock: Clock
) -> None:
    case = at(shop, clock)
    fewer = {**DESIGN, "replaced": [36, 37, 46]}
    answer(shop, clock, change(shop, case, clock, fewer), "confirm")
    case.refresh_from_db()
    ordered = case.order["replaces"]
    clock.now += timedelta(minutes=1)
    correct(shop, case, clock, replaces=[36, 37])
    clock.now += timedelta(minutes=1)

    correct(shop, case, clock, replaces=list(reversed(ordered)))

    assert held(case) == set()
    assert not case.questions.filter(answered_at=None, withdrawn_at=None).exists()
    # The agreed design is what others are held against, not the order that is as it was.
    assert change(shop, case, clock, DESIGN) is not None
    assert verify_record() == []


def test_a_stage_that_a_corrected_order_brings_waits_as_well(shop: Shop, clock: Clock) -> None:
    case = at(shop, clock)
    wanted = case.order["try_in"]
    if wanted:
        correct(shop, case, clock, try_in=False)
    change(shop, case, clock, FEWER_TOO)
    assert "try-in" not in held(case)
    correct(shop, case, clock, try_in=True)
    assert "try-in" in held(case)
    assert verify_record() == []
