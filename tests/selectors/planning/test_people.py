"""Hands: skills, pace, shifts, absences, closed days, overtime, nights on which clocks change."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import UTC, date, datetime, time
from typing import Any

import pytest

from cases.domain.planning import problem as plan
from cases.models import Absence, ClosedDay, Lab, OpenHours, Person, PersonSkill, Shift
from cases.selectors.planning.build import build
from cases.selectors.planning.people import EVERYBODY, person_key, sign_skill
from tests.factories import NOW, Shop, make_shop, rows
from tests.selectors.planning.small import EVENING, MORNING, Step, change, make_small, solve

pytestmark = pytest.mark.django_db
DAY = 24 * 60


@pytest.fixture
def shop() -> Shop:
    return make_shop()


def hands(person: Person, now: datetime = NOW) -> plan.Person:
    """Return a person as the planner reads it."""
    return next(one for one in build(now).problem.persons if one.key == person_key(person.pk))


def give(model: type[Any], *facts: dict[str, Any]) -> None:
    rows(lambda record: {"made": [record.create(model, **one) for one in facts]})


def works(person: Person, *spans: tuple[int, time, time]) -> None:
    """Let these be the shifts of a person: weekday, from, to."""
    Shift.objects.filter(person=person).delete()
    give(Shift, *({"person": person, "weekday": d, "begins": a, "ends": b} for d, a, b in spans))


def first(hours: Iterable[plan.Span], count: int = 2) -> list[plan.Span]:
    return list(hours)[:count]


def test_day_that_runs_counts_from_now(shop: Shop) -> None:
    assert first(hands(shop.people["mara"]).hours) == [(0, EVENING), (MORNING, MORNING + 540)]


def test_part_time_works_on_its_own_days_and_hours(shop: Shop) -> None:
    mara = shop.people["mara"]
    works(mara, (3, time(9), time(12)), (3, time(12), time(13)), (5, time(8), time(10)))

    # Thursday from nine to one, Saturday from eight to ten although the lab is closed then.
    assert first(hands(mara).hours, 3) == [
        (MORNING + 60, MORNING + 240),
        (MORNING + 240, MORNING + 300),
        (MORNING + 2 * DAY, MORNING + 2 * DAY + 120),
    ]


def test_shifts_that_overlap_are_one(shop: Shop) -> None:
    mara = shop.people["mara"]
    works(mara, (3, time(8), time(12)), (3, time(10), time(14)), (3, time(10), time(11)))

    assert first(hands(mara).hours, 1) == [(MORNING, MORNING + 360)]


def test_who_has_no_shifts_works_when_the_lab_is_open(shop: Shop) -> None:
    Shift.objects.filter(person=shop.people["mara"]).delete()
    change(OpenHours.objects.get(weekday=2), closes=time(12))

    assert first(hands(shop.people["mara"]).hours, 1) == [(0, 78)]


def test_absence_and_closed_days_are_free(shop: Shop) -> None:
    away = {"person": shop.people["mara"], "first_on": date(2026, 12, 9)}
    give(Absence, away | {"last_on": date(2026, 12, 10)})
    give(ClosedDay, {"day": date(2026, 12, 11), "words": "Founder's day"})

    assert hands(shop.people["mara"]).hours[0][0] == MORNING + 4 * DAY
    assert hands(shop.people["oren"]).hours[2][0] == MORNING + 4 * DAY


def test_work_waits_for_who_is_away(shop: Shop) -> None:
    case = make_small(shop, Step("one", facts={"skill": "wax"}))
    for name in ("oren", "teo"):
        PersonSkill.objects.filter(person=shop.people[name]).delete()
    give(
        Absence,
        {
            "person": shop.people["mara"],
            "first_on": date(2026, 12, 9),
            "last_on": date(2026, 12, 9),
        },
    )

    assert solve().span(case, "one") == (MORNING, MORNING + 30)


def test_work_rests_over_the_night(shop: Shop) -> None:
    case = make_small(shop, Step("one", 400))
    late = make_small(shop, Step("one", 400, spec={"night": "no"}), ref="Q-2")
    give(Absence, *({"person": shop.people[name], "first_on": date(2026, 12, 9),
                     "last_on": date(2027, 12, 9)} for name in ("teo",)))  # fmt: skip

    plan_ = solve()

    assert plan_.span(case, "one") == (0, MORNING + 400 - EVENING)
    assert plan_.span(late, "one") == (MORNING, MORNING + 400)


def test_speed_is_how_much_more_somebody_does_in_the_time(shop: Shop) -> None:
    skill = PersonSkill.objects.get(person=shop.people["mara"], skill__key="wax")
    change(skill, speed=1.25)

    assert dict(hands(shop.people["mara"]).skills)["wax"] == 0.8


def test_who_may_sign_has_a_skill_for_it(shop: Shop) -> None:
    mara, teo = hands(shop.people["mara"]), hands(shop.people["teo"])

    assert (mara.student, mara.may_sign, "sign wax" in dict(mara.skills)) == (False, True, True)
    assert (teo.student, teo.may_sign, "sign wax" in dict(teo.skills)) == (True, False, False)


def test_who_works_at_no_bench_is_planned_only_to_sign(shop: Shop) -> None:
    change(shop.people["oren"], active=False)

    found = {one.key: one for one in build(NOW).problem.persons}

    assert list(found) == [person_key(shop.people[name].pk) for name in ("mara", "teo", "pavo")]
    pavo = found[person_key(shop.people["pavo"].pk)]
    assert pavo.may_sign
    assert {"sign wax", sign_skill(EVERYBODY)} <= set(dict(pavo.skills))
    assert all(skill.startswith("sign ") for skill, _pace in pavo.skills)


def test_student_who_manages_signs_nothing(shop: Shop) -> None:
    change(shop.people["teo"], is_manager=True)

    teo = hands(shop.people["teo"])

    assert not teo.may_sign
    assert not [skill for skill, _pace in teo.skills if skill.startswith("sign ")]


def test_overtime_is_the_hour_after_a_shift_where_the_lab_allows_it(shop: Shop) -> None:
    case = make_small(shop, Step("one", 400))

    assert first(hands(shop.people["mara"]).overtime, 1) == [(EVENING, EVENING + 60)]
    assert solve().span(case, "one")[1] > EVENING + 60
    change(Lab.objects.get(), plan_overtime=True)
    assert solve().span(case, "one") == (0, 400)
    change(Lab.objects.get(), plan_overtime_minutes=21)
    assert first(hands(shop.people["mara"]).overtime, 1) == [(EVENING, EVENING + 21)]
    assert solve().span(case, "one")[1] > EVENING + 60


@pytest.mark.parametrize(
    ("lab", "own", "span", "stays"),
    [
        (False, None, [(EVENING, EVENING + 60)], False),
        (True, None, [(EVENING, EVENING + 60)], True),
        (False, 90, [(EVENING, EVENING + 90)], True),
        (True, 90, [(EVENING, EVENING + 90)], True),
        (False, 0, [], False),
        (True, 0, [], False),
    ],
)
def test_overtime_of_a_person_is_their_own_where_it_is_said(
    shop: Shop, lab: bool, own: int | None, span: list[plan.Span], stays: bool
) -> None:
    change(Lab.objects.get(), plan_overtime=lab)
    mara, oren = shop.people["mara"], shop.people["oren"]
    change(mara, overtime_minutes=own)

    assert first(hands(mara).overtime, 1) == span
    assert hands(mara).stays == stays
    assert hands(oren).stays == lab


def test_only_who_stays_works_in_the_evening(shop: Shop) -> None:
    mara, oren = shop.people["mara"], shop.people["oren"]
    change(shop.people["teo"], active=False)
    change(mara, overtime_minutes=0)
    change(oren, overtime_minutes=30)
    cases = [make_small(shop, Step("one", 400), ref=ref) for ref in ("Q-1", "Q-2")]
    solved = solve()

    ends = {solved.at(case, "one").person: solved.at(case, "one").end for case in cases}
    assert ends == {
        person_key(oren.pk): 400,
        person_key(mara.pk): MORNING + 400 - EVENING,
    }


@pytest.mark.parametrize(
    ("now", "night"),
    [
        (datetime(2026, 10, 24, 8, tzinfo=UTC), 25),
        (datetime(2027, 3, 27, 9, tzinfo=UTC), 23),
        (datetime(2026, 12, 5, 9, tzinfo=UTC), 24),
    ],
    ids=["an hour more", "an hour less", "none"],
)
def test_night_on_which_the_clocks_change_is_as_long_as_it_is(now: datetime, night: int) -> None:
    """It is ten on the lab's wall, on a Saturday; the clocks change in the night that comes."""
    mara = make_shop(now).people["mara"]
    works(mara, (5, time(8), time(20)), (6, time(1), time(5)), (6, time(10), time(12)))

    # Ten to eight in the evening; one to five by the wall; ten on Sunday is a day later.
    assert first(hands(mara, now).hours, 3) == [
        (0, 600),
        (900, 900 + (night - 24 + 4) * 60),
        (night * 60, (night + 2) * 60),
    ]
