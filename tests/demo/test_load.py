"""The demo lab keeps the rules of the bench, and the checker of the rules can fail."""

from __future__ import annotations

import dataclasses
from collections.abc import Iterator
from datetime import datetime, timedelta

import pytest
from django.db import transaction

from cases.demo.load import load
from cases.demo.people import PLACES, PRESCRIBERS, RECEPTION, WORKERS
from cases.domain.route import default_template
from cases.models import (
    Alert,
    BathRecord,
    Case,
    CaseStage,
    Event,
    Load,
    Mix,
    Person,
    Submission,
)
from cases.services.verify_record import verify_record
from tests.demo import rules
from tests.demo.rules import Facts, collect

pytestmark = pytest.mark.timeout(900)

NOW = datetime.fromisoformat("2026-12-09T11:20:00+01:00")
"""A Wednesday before noon on the lab's wall."""


@pytest.fixture(scope="module")
def lab(django_db_setup: None, django_db_blocker: object) -> Iterator[Facts]:
    """Load a small demo once for this module; nothing of it is kept."""
    with django_db_blocker.unblock(), transaction.atomic():  # type: ignore[attr-defined]
        for _ in load(NOW, open_cases=10, finished=8):
            pass
        yield collect(NOW)
        transaction.set_rollback(True)


@pytest.mark.parametrize("rule", rules.RULES, ids=lambda rule: rule.__name__)
def test_demo_keeps_the_rule(lab: Facts, rule: object) -> None:
    """No case of the demo breaks a rule of the bench."""
    assert rule(lab) == []  # type: ignore[operator]


def test_demo_has_the_cases_asked_for(lab: Facts) -> None:
    """As many are open, and as many have left, as were asked for."""
    states = list(Case.objects.values_list("state", flat=True))
    assert states.count("open") + states.count("packed") == 10
    assert states.count("sent") == 8


def test_demo_leaves_a_true_record(lab: Facts) -> None:
    """Every stored cell stands in an event."""
    assert verify_record() == []


def test_demo_is_refused_nothing(lab: Facts) -> None:
    """The simulation knows the rules: the services refuse it nothing."""
    assert list(Submission.objects.filter(outcome="refused").values_list("verb", "code")) == []


def test_demo_happens_in_order(lab: Facts) -> None:
    """The events follow each other in time, and none lies ahead."""
    times = list(Event.objects.order_by("pk").values_list("received_at", flat=True))
    assert times == sorted(times)
    assert times[-1] <= NOW


def test_demo_is_alive_and_quiet(lab: Facts) -> None:
    """Somebody is at work at the end, and hardly an alarm rings."""
    assert CaseStage.objects.filter(state="running").exists()
    assert Alert.objects.filter(acknowledged_at=None).count() <= 2


def test_demo_names_only_invented_people(lab: Facts) -> None:
    """Everybody in the database is of the invented list; patients are codes."""
    invented = {one.name for one in (*WORKERS, *PRESCRIBERS)} | {RECEPTION[1]}
    assert set(Person.objects.values_list("name", flat=True)) <= invented
    codes = {place.code for place in PLACES}
    for reference in Case.objects.values_list("patient_ref", flat=True):
        code, _, number = reference.partition("-")
        assert code in codes
        assert number.isdigit()


# --- the checker can fail -------------------------------------------------------------------


def test_rule_of_order_finds_an_early_start(lab: Facts) -> None:
    """A start before the end of what comes before it is found."""
    begun = next(
        n
        for n, one in enumerate(lab.happenings)
        if one.kind == "stage.started" and one.key == "trim"
    )
    case = lab.happenings[begun].case
    poured = next(
        n
        for n, one in enumerate(lab.happenings)
        if one.case == case and one.kind == "stage.finished"
    )
    turned = list(lab.happenings)
    turned.insert(poured, turned.pop(begun))
    assert rules.out_of_order(dataclasses.replace(lab, happenings=turned))


def test_rule_of_order_finds_a_short_wait(lab: Facts) -> None:
    """A start within the least wait is found."""
    waited = {
        case: [(before, after, least + 1_000_000) for before, after, least in edges]
        for case, edges in lab.edges.items()
    }
    assert rules.out_of_order(dataclasses.replace(lab, edges=waited))


def test_rule_of_the_cast_finds_two_hands(lab: Facts) -> None:
    """The same cast twice at the same time is found."""
    one = next(hands for hands in lab.hands if hands.needs_cast)
    twice = [*lab.hands, dataclasses.replace(one, key="mount", began=one.began)]
    assert rules.cast_in_two_hands(dataclasses.replace(lab, hands=twice))


def test_rule_of_things_finds_one_taken_twice(lab: Facts) -> None:
    """A flask in two cases is found."""
    twice = [*lab.taken, dataclasses.replace(lab.taken[0], case=-1)]
    assert rules.thing_taken_twice(dataclasses.replace(lab, taken=twice))


def test_rule_of_skills_finds_who_cannot(lab: Facts) -> None:
    """Work without the skill is found."""
    assert rules.without_skill(dataclasses.replace(lab, skills={}))


def test_rule_of_shifts_finds_night_lunch_and_holiday(lab: Facts) -> None:
    """Work at night, over lunch and on a closed day is found."""
    one = lab.hands[0]
    night = dataclasses.replace(
        one, began=one.began + timedelta(hours=14), ended=one.ended + timedelta(hours=14)
    )
    assert rules.out_of_shift(dataclasses.replace(lab, hands=[night]))
    lunch = dataclasses.replace(one, ended=one.began + timedelta(hours=8))
    assert rules.out_of_shift(dataclasses.replace(lab, hands=[lunch]))
    day = one.began.astimezone(lab.zone).date()
    assert rules.out_of_shift(dataclasses.replace(lab, hands=[one], closed=frozenset({day})))
    away = {one.person: [(day, day)]}
    assert rules.out_of_shift(dataclasses.replace(lab, hands=[one], away=away))


def test_rule_of_hands_finds_two_places(lab: Facts) -> None:
    """Two different stages in one pair of hands are found."""
    one = lab.hands[0]
    twice = [one, dataclasses.replace(one, key="wax", began=one.began + timedelta(minutes=1))]
    assert rules.in_two_places(dataclasses.replace(lab, hands=twice))


# --- again, and in full ---------------------------------------------------------------------

PRIMARY_KEYS = frozenset({"photo", "to", "file", "person", "practice", "hold"})
"""Facts that are keys of rows: a database that counts on gives others the second time."""


def _told() -> list[tuple[object, ...]]:
    told = []
    with transaction.atomic():
        for _ in load(NOW, open_cases=2, finished=2):
            pass
        for row in Event.objects.exclude(case=None).select_related("case").order_by("pk"):
            facts = {key: value for key, value in row.facts.items() if key not in PRIMARY_KEYS}
            told.append((row.received_at, row.case.number, row.kind, row.subject, facts))
        transaction.set_rollback(True)
    return told


@pytest.mark.django_db
def test_same_draw_makes_the_same_lab() -> None:
    """The same draw and the same instant give the same numbers and events."""
    first = _told()
    assert len(first) > 100
    assert _told() == first


@pytest.mark.long
@pytest.mark.timeout(3000)
@pytest.mark.django_db
def test_full_week_shows_every_stage_and_keeps_the_rules() -> None:
    """With 60 and 60 every stage of the route has an open case that stands at it."""
    for _ in load(NOW, open_cases=60, finished=60):
        pass
    standing = CaseStage.objects.filter(case__state__in=["open", "packed"])
    here = set(
        standing.filter(state__in=["running", "paused", "countersign", "away"]).values_list(
            "key", flat=True
        )
    )
    here |= set(
        standing.filter(state="planned", ready_at__isnull=False).values_list("key", flat=True)
    )
    assert here == {stage.key for stage in default_template().stages}
    states = list(Case.objects.values_list("state", flat=True))
    assert states.count("open") + states.count("packed") == 60
    assert states.count("sent") == 60
    loads = Load.objects.prefetch_related("records")
    assert {"running", "over"} <= {row.state for row in loads}
    assert [row for row in loads if row.state == "over" and row.open_from > NOW]
    found = [(record.verdict["verdict"], record.decision) for record in BathRecord.objects.all()]
    assert ("complete", "accept") in found
    assert found.count(("doubtful", "")) == 1
    assert Mix.objects.filter(closed_at=None, stage__state="running").exists()
    facts = collect(NOW)
    assert [broken for rule in rules.RULES for broken in rule(facts)] == []
    assert verify_record() == []


@pytest.mark.django_db
@pytest.mark.parametrize(
    "now",
    ["2026-12-13T03:10:00+01:00", "2026-12-09T08:05:00+01:00", "2026-12-09T22:30:00+01:00"],
    ids=["Sunday night", "opening", "evening"],
)
def test_demo_stands_at_any_hour(now: str) -> None:
    """When nobody works, nothing is in anybody's hands, and the cases are there all the same."""
    at = datetime.fromisoformat(now)
    for _ in load(at, open_cases=4, finished=2):
        pass
    states = list(Case.objects.values_list("state", flat=True))
    assert states.count("open") + states.count("packed") == 4
    assert states.count("sent") == 2
    assert rules.out_of_shift(collect(at)) == []
