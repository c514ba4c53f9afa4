"""The planner's turn: mend, improve, then nothing; one at a time; what is refused is not shown."""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime, timedelta
from typing import Any

import pytest

from cases.domain.planning import cpsat
from cases.models import Case, Lab, PersonSkill, Plan, PlanCase, Planner, PlanStage, Skill
from cases.selectors import plan as shown
from cases.selectors.planning import build as build_module
from cases.services import plan_publish, plan_think, planner
from cases.services.hold import hold_case
from cases.services.plan import pin_stage
from cases.services.plan_remedies import advise
from cases.services.record import Envelope, Recorder, perform
from tests.factories import NOW, Shop, make_case, make_shop, rows
from tests.selectors.planning.small import Step, change, make_small, stage_of

pytestmark = pytest.mark.django_db
LATER = NOW + timedelta(minutes=1)
DAY = timedelta(days=1)


class Watch:
    """A clock that goes on by some seconds each time that somebody looks at it."""

    def __init__(self, by: float = 0.25) -> None:
        self.at, self.by = 0.0, by

    def __call__(self) -> float:
        self.at += self.by
        return self.at


def turn(now: datetime = LATER, by: float = 0.25) -> str:
    return planner.turn(now, seconds=Watch(by))


@pytest.fixture
def shop() -> Shop:
    """The small lab, whose planner may improve for two seconds."""
    made = make_shop()
    change(Lab.objects.get(), plan_seconds=2)
    return made


def happens(kind: str, at: datetime) -> None:
    """Let something be recorded."""

    def run(record: Recorder) -> dict[str, Any]:
        record.event(kind)
        return {}

    perform("test.happens", None, Envelope("command", at), {}, run)


def state() -> Planner:
    return Planner.objects.get()


# ── which turn it is ─────────────────────────────────────────────────────────


def test_house_that_is_not_set_up_is_not_planned() -> None:
    assert turn() == "nothing"
    assert not Plan.objects.exists()


def test_lab_is_planned_then_improved_then_left_alone(shop: Shop) -> None:
    make_case(shop)

    assert [turn() for _ in range(4)] == ["mended", "improved", "advised", "nothing"]
    assert Plan.objects.earliest("pk").how == "rules"
    assert state().improved_for == Plan.objects.latest("pk").pk
    assert (state().busy_until, state().improving_since) == (None, None)


def test_without_a_budget_nothing_is_improved(shop: Shop) -> None:
    change(Lab.objects.get(), plan_seconds=0)

    assert [turn(), turn()] == ["mended", "nothing"]


def planned(shop: Shop) -> Case:
    """Return a case that has a plan, improved, as of a minute after it came."""
    case = make_case(shop)
    assert [turn() for _ in range(3)] == ["mended", "improved", "advised"]
    return case


def test_what_does_not_rest_yet_never_waits_for_an_improvement(shop: Shop) -> None:
    make_case(shop)
    assert turn() == "mended"
    happens("case.promised", LATER + timedelta(seconds=10))

    assert turn(LATER + timedelta(seconds=10.1)) == "nothing"
    assert turn(LATER + timedelta(seconds=10.5)) == "mended"


@pytest.mark.parametrize(
    ("kinds", "rests", "done"),
    [
        ([("case.promised", 0)], 0.3, "nothing"),
        ([("case.promised", 0)], 0.4, "mended"),
        ([("case.promised", second / 4) for second in range(5)], 0.3, "nothing"),
        ([("case.promised", second / 4) for second in range(6)], 0.3, "mended"),
        ([("note.added", 0), ("timer.fired", 0)], 9, "nothing"),
        ([("case.promised", 0), ("note.added", 0.5)], 0.1, "mended"),
    ],
    ids=["just now", "it rests", "goes on", "goes on for long", "no matter", "then a note"],
)
def test_plan_is_mended_when_what_happens_rests(
    shop: Shop, kinds: list[tuple[str, float]], rests: float, done: str
) -> None:
    planned(shop)
    for kind, second in kinds:
        happens(kind, LATER + timedelta(seconds=10 + second))
    last = max(second for _kind, second in kinds)

    assert turn(LATER + timedelta(seconds=10 + last + rests)) == done


def test_plan_is_made_anew_when_it_is_old(shop: Shop) -> None:
    planned(shop)

    assert turn(LATER + planner.STALE - timedelta(seconds=1)) == "nothing"
    assert turn(LATER + planner.STALE) == "mended"


def test_what_happens_while_a_plan_is_made_is_not_lost(
    shop: Shop, monkeypatch: pytest.MonkeyPatch
) -> None:
    planned(shop)
    happens("case.promised", LATER + timedelta(seconds=10))
    honest = plan_think.build

    def slow(now: datetime) -> Any:
        built = honest(now)
        happens("case.promised", LATER + timedelta(seconds=12))
        return built

    monkeypatch.setattr(plan_think, "build", slow)
    assert turn(LATER + timedelta(seconds=12)) == "mended"
    monkeypatch.setattr(plan_think, "build", honest)

    assert turn(LATER + timedelta(seconds=14)) == "mended"


# ── one at a time ────────────────────────────────────────────────────────────


def test_who_comes_while_another_plans_goes_away(shop: Shop) -> None:
    planner.row()
    Planner.objects.update(busy_until=LATER + timedelta(seconds=1))

    assert turn() == "busy"
    assert not Plan.objects.exists()


def test_turn_of_a_dead_worker_ends(shop: Shop) -> None:
    planner.row()
    Planner.objects.update(busy_until=LATER, improving_since=NOW)

    assert turn() == "mended"
    assert (state().busy_until, state().improving_since) == (None, None)


def test_who_lost_the_turn_stores_nothing_and_leaves_the_other_alone(
    shop: Shop, monkeypatch: pytest.MonkeyPatch
) -> None:
    honest, theirs = plan_think.build, LATER + DAY

    def overtaken(now: datetime) -> Any:
        Planner.objects.update(busy_until=theirs)
        return honest(now)

    monkeypatch.setattr(plan_think, "build", overtaken)

    assert turn() == "mended"
    assert not Plan.objects.exists()
    assert state().busy_until == theirs


def test_lab_that_cannot_be_planned_is_said_and_the_turn_given_back(
    shop: Shop, monkeypatch: pytest.MonkeyPatch
) -> None:
    planned(shop)

    def broken(now: datetime) -> Any:
        raise ValueError("The hours of 'p1' run backwards.")

    monkeypatch.setattr(plan_think, "build", broken)
    with pytest.raises(ValueError, match="run backwards"):
        turn(LATER + planner.STALE)

    assert "could not be planned: ValueError: The hours of 'p1' run backwards." in state().fault
    assert state().busy_until is None
    assert Plan.objects.exists()


# ── improving ────────────────────────────────────────────────────────────────


def wrong_way_round(shop: Shop) -> tuple[Case, Case]:
    """Return a plain case and a rush that the plan in force does after it; mara is alone."""
    for name in ("oren", "teo"):
        change(shop.people[name], active=False)
    due = NOW + timedelta(minutes=318)
    plain = make_small(shop, Step("one", 200), ref="Q-1", leaves_at=due)
    rush = make_small(shop, Step("one", 200), ref="Q-2", leaves_at=due, rush=True)
    old = Plan.objects.create(made_at=NOW, how="rules", up_to_event=plan_think.last_event())
    for place, case in enumerate((plain, rush)):
        begins = LATER + timedelta(minutes=200 * place)
        PlanStage.objects.create(
            plan=old, stage=stage_of(case, "one"), person=shop.people["mara"],
            begins_at=begins, ends_at=begins + timedelta(minutes=200),
        )  # fmt: skip
    return plain, rush


def order(newest: Plan) -> list[str]:
    found = newest.rows.order_by("begins_at").values_list("stage__case__patient_ref", flat=True)
    return list(found)


def test_mending_keeps_the_order_and_improving_finds_the_better_one(shop: Shop) -> None:
    wrong_way_round(shop)
    happens("case.promised", NOW)

    assert turn() == "mended"
    mended = Plan.objects.first()
    assert turn(LATER) == "improved"
    better = Plan.objects.first()

    # The rush is a day late and weighs four; a day of the plain case weighs one.
    assert mended is not None
    assert better is not None
    assert (mended.how, order(mended), mended.lateness) == ("mend", ["Q-1", "Q-2"], 4 * 1440)
    assert (better.how, order(better), better.lateness) == ("search", ["Q-2", "Q-1"], 1440)
    found = state()
    assert (found.first_lateness, found.best_lateness) == (4 * 1440, 1440)
    assert found.spent_seconds >= 2


def test_what_moved_for_people_is_marked(shop: Shop) -> None:
    plain, _rush = wrong_way_round(shop)
    happens("case.promised", NOW)
    turn(), turn()

    row = PlanStage.objects.get(plan=Plan.objects.first(), stage=stage_of(plain, "one"))

    assert (row.was_person, row.was_from) == (None, LATER)
    assert row.begins_at == LATER + timedelta(minutes=200)


def test_improvement_without_a_solver_is_one_all_the_same(
    shop: Shop, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(cpsat, "available", lambda: False)
    wrong_way_round(shop)
    happens("case.promised", NOW)
    turn(), turn()

    newest = Plan.objects.first()
    assert newest is not None
    assert (newest.how, newest.lateness) == ("local", 1440)


class Meanwhile(Watch):
    """A clock that lets something happen when somebody looks at it for the third time while the
    planner improves."""

    def __init__(self, then: Callable[[], object]) -> None:
        super().__init__(0.6)
        self.left, self.then = 3, then

    def __call__(self) -> float:
        if state().improving_since is not None:
            self.left -= 1
            if not self.left:
                self.then()
        return super().__call__()


@pytest.mark.parametrize(
    "then",
    [planner.ask_to_stop, lambda: happens("case.promised", NOW)],
    ids=["somebody stops it", "something happens"],
)
def test_improvement_that_is_ended_keeps_the_best_so_far(
    shop: Shop, then: Callable[[], object]
) -> None:
    change(Lab.objects.get(), plan_seconds=600)
    wrong_way_round(shop)
    happens("case.promised", NOW)
    turn()

    assert planner.turn(LATER, seconds=Meanwhile(then)) == "improved"
    newest = Plan.objects.first()
    assert newest is not None
    assert newest.lateness == 1440
    assert 0 < state().spent_seconds < 20


def test_nobody_stops_what_does_not_run(shop: Shop) -> None:
    planner.row()
    assert not planner.ask_to_stop()

    assert state().stop_asked is False


def test_plan_that_cannot_be_better_is_left_in_force(shop: Shop) -> None:
    make_small(shop, Step("one"))
    turn()
    before = Plan.objects.get()

    assert turn() == "improved"
    assert Plan.objects.get() == before
    assert state().improved_for == before.pk


def test_half_of_a_pair_without_a_place_is_said_and_the_rest_is_stored(shop: Shop) -> None:
    whole, lost, other = (
        make_small(shop, Step("one", facts=facts), ref=ref)
        for ref, facts in (("Q-1", {}), ("Q-2", {"skill": "press"}), ("Q-3", {}))
    )
    PersonSkill.objects.filter(skill__key="press").delete()
    rows(
        lambda record: {"a": record.change(whole, twin=lost), "b": record.change(lost, twin=whole)}
    )

    assert turn() == "mended"

    stored = Plan.objects.get()
    assert state().fault == ""
    assert set(PlanCase.objects.values_list("case", flat=True)) == {other.pk}
    assert stored.words == [
        f"{whole.number} waits for {lost.number}, which has no place in the plan."
    ]


def test_case_that_no_van_takes_is_said_with_the_day_of_the_last_one(
    shop: Shop, monkeypatch: pytest.MonkeyPatch
) -> None:
    case = make_small(shop, Step("one", 500))
    monkeypatch.setattr(build_module, "DAYS_AHEAD", 1)

    assert turn(NOW) == "mended"

    assert Plan.objects.get().words == [
        f"{case.number} is done after the last van that is known, on Wednesday 9 December: say on "
        "which days a van goes to its practice, or let it be sent otherwise."
    ]


# ── what is stored ───────────────────────────────────────────────────────────


def test_plan_is_stored_with_who_where_and_when_it_leaves(shop: Shop) -> None:
    case = make_small(shop, Step("one"), leaves_at=NOW)
    turn(NOW)

    row, leaves = PlanStage.objects.get(), PlanCase.objects.get()

    assert (row.stage, row.begins_at, row.ends_at) == (
        stage_of(case, "one"), NOW, NOW + timedelta(minutes=30),
    )  # fmt: skip
    assert row.person_id in {shop.people[name].pk for name in ("mara", "oren", "teo")}
    assert (leaves.case, leaves.leaves_at) == (case, NOW + timedelta(minutes=318))
    assert leaves.late_minutes == 318


def test_reasons_are_told_at_once_of_the_latest_cases_and_then_of_the_others(
    shop: Shop, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(plan_publish, "TOLD_AT_ONCE", 1)
    for place, due in enumerate((NOW, NOW - DAY, NOW + 5 * DAY)):
        make_small(shop, Step("one"), ref=f"Q-{place}", leaves_at=due)
    turn(NOW)

    told = {row.case.patient_ref: (row.late_minutes > 0, bool(row.why)) for row in shown_cases()}

    assert told == {"Q-0": (True, False), "Q-1": (True, True), "Q-2": (False, False)}
    newest = Plan.objects.first()
    assert newest is not None
    # The others follow with what would save them.
    advise(NOW, newest, lambda: False)
    assert {row.case.patient_ref for row in shown_cases() if row.why} == {"Q-0", "Q-1"}


def shown_cases() -> list[PlanCase]:
    return list(PlanCase.objects.select_related("case"))


def test_what_cannot_be_planned_is_stored_with_its_sentence(shop: Shop) -> None:
    case = make_small(shop, Step("one", facts={"skill": "lost-wax"}))
    make_small(shop, Step("one"), ref="Q-2")
    turn()

    newest = Plan.objects.get()
    (without,) = newest.unplanned

    assert without["stage"] == stage_of(case, "one").pk
    assert without["words"] == "Nobody may do “lost-wax”: give someone the skill."
    assert newest.rows.count() == 1


def test_refused_plan_is_not_shown_and_says_so(shop: Shop, monkeypatch: pytest.MonkeyPatch) -> None:
    planned(shop)
    before = Plan.objects.count()
    with monkeypatch.context() as patch:
        patch.setattr(
            plan_publish, "verify", lambda problem, found: [f"{found.planned[0].stage} overlaps."]
        )
        assert turn(LATER + planner.STALE) == "mended"

    assert Plan.objects.count() == before
    number = Case.objects.get().number
    assert state().fault.startswith("The last plan was refused by its check, and the one before")
    assert state().fault.endswith(f": {number}, Unpack and log overlaps.")
    assert turn(LATER + planner.STALE) == "mended"
    assert (Plan.objects.count(), state().fault) == (before + 1, "")


def test_when_the_mended_plan_is_refused_the_lab_is_planned_by_the_rules(
    shop: Shop, monkeypatch: pytest.MonkeyPatch
) -> None:
    planned(shop)
    honest, refused = plan_publish.verify, [["It starts too soon."]]
    monkeypatch.setattr(
        plan_publish,
        "verify",
        lambda problem, found: refused.pop() if refused else honest(problem, found),
    )

    turn(LATER + planner.STALE)

    newest = Plan.objects.first()
    assert newest is not None
    assert (newest.how, newest.made_at, state().fault) == ("rules", LATER + planner.STALE, "")


def test_only_the_last_plans_keep_their_rows(shop: Shop, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(plan_publish, "PLANS_KEPT", 5)
    make_small(shop, Step("one"))
    for number in range(7):
        planner.mend(LATER + timedelta(minutes=number))

    kept = list(Plan.objects.values_list("pk", flat=True))
    with_rows = set(PlanStage.objects.values_list("plan", flat=True))

    assert len(kept) == 5
    assert with_rows == set(PlanCase.objects.values_list("plan", flat=True)) == set(kept[:3])


def test_the_same_lab_gives_the_same_plan(shop: Shop) -> None:
    for ref in ("Q-1", "Q-2", "Q-3"):
        make_case(shop, ref=ref)

    assert plan_think.think(NOW).plan == plan_think.think(NOW).plan


def test_nothing_happened_and_nobody_is_moved(shop: Shop) -> None:
    for ref in ("Q-1", "Q-2", "Q-3"):
        make_case(shop, ref=ref)
    turn(NOW)
    before = Plan.objects.get()

    made = plan_think.think(NOW)

    assert (made.how, made.plan.moves) == ("mend", 0)
    assert [made.built.clock.instant(one.start) for one in made.plan.planned] == [
        before.rows.get(stage=one.stage[1:]).begins_at for one in made.plan.planned
    ]


# ── limits that are given up ─────────────────────────────────────────────────


def test_start_that_was_pinned_and_cannot_be_is_given_up_and_said(shop: Shop) -> None:
    case = make_small(shop, Step("one"), Step("two"))
    night = NOW + timedelta(hours=12)
    pin_stage(
        shop.envelope("pavo"), stage=stage_of(case, "one").pk,
        person=shop.people["mara"].pk, begins_at=night.isoformat(),
    )  # fmt: skip

    made = plan_think.think(NOW)

    assert made.words == (
        f"{case.number}, One: the start that was pinned cannot be kept (Wed 9 Dec, 22:42); "
        "it begins Wed 9 Dec, 10:42.",
    )
    assert made.plan.unplanned == ()


def test_only_the_limit_in_the_way_is_given_up_and_said(shop: Shop) -> None:
    """Nobody who may do the second stage comes before tomorrow; the first one runs already."""
    edge = {"before": "one", "after": "two", "min_wait": 0, "max_wait": 60}
    skilled = Step("two", facts={"skill": "wax"})
    late = make_small(shop, Step("one"), skilled, edges=[edge], ref="Q-1")
    kept = make_small(shop, Step("one"), skilled, edges=[edge], ref="Q-2")
    for name in ("mara", "oren", "teo"):
        PersonSkill.objects.filter(person=shop.people[name], skill__key="wax").delete()
    wax = Skill.objects.get(key="wax")
    PersonSkill.objects.create(person=shop.people["oren"], skill=wax, may_countersign=True)
    shop.people["oren"].shifts.filter(weekday=2).delete()
    change(stage_of(late, "one"), state="running", worker=shop.people["mara"], started_at=NOW)

    made = plan_think.think(NOW)

    most = {
        stage.case: [after.most for after in stage.after]
        for stage in made.problem.stages
        if stage.after or stage.case == f"k{late.pk}"
    }
    assert made.plan.unplanned == ()
    assert made.words == (
        f"{late.number}, Two: its longest wait cannot be kept (1 hour after “{late.number}, One”); "
        "it begins Thu 10 Dec, 08:00.",
    )
    assert (most[f"k{late.pk}"], most[f"k{kept.pk}"]) == ([None], [60])


@pytest.mark.parametrize(("left", "said"), [(2, 1), (-2, 0)], ids=["it is near", "it is over"])
def test_a_last_moment_ahead_is_said_when_it_is_given_up(shop: Shop, left: int, said: int) -> None:
    """Two stages should begin by then, and there is one pair of hands."""
    for name in ("oren", "teo"):
        change(shop.people[name], active=False)
    edge = {"before": "one", "after": "two", "min_wait": 0, "max_wait": 20 + left}
    done = {"state": "done", "started_at": NOW - timedelta(minutes=60),
            "ended_at": NOW - timedelta(minutes=20)}  # fmt: skip
    for ref in ("Q-1", "Q-2"):
        make_small(shop, Step("one", facts=done), Step("two"), edges=[edge], ref=ref)

    made = plan_think.think(NOW)

    assert made.plan.unplanned == ()
    assert len(made.words) == said
    assert all("its last moment cannot be kept (Wed 9 Dec, 10:44)" in w for w in made.words)
    assert sorted(one.start for one in made.plan.planned) == [0, 30]


def test_improving_is_shown_until_the_turn_of_a_dead_worker_ends(shop: Shop) -> None:
    planner.row()
    Planner.objects.update(improving_since=NOW, busy_until=LATER)

    assert shown.state(NOW).improving is True
    assert shown.state(LATER).improving is False


def test_hold_moves_the_plan(shop: Shop) -> None:
    case = make_small(shop, Step("one"))
    turn()
    hold_case(
        shop.envelope("noor", now=LATER), case=case.pk, version=case.version,
        reason="on-order", waits_for="supplier", expected_on="2026-12-11",
    )  # fmt: skip

    assert turn(LATER + timedelta(seconds=2)) == "mended"
    row = PlanStage.objects.get(plan=Plan.objects.first())
    assert row.begins_at == datetime(2026, 12, 11, 7, tzinfo=NOW.tzinfo)
