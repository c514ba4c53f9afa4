"""Which day may be promised to a case that is not here yet: the lab is planned with it.

Nothing is stored. The plan is asked with the case in it, day by day; a day is *safe* when the
case leaves by then and no other promise is broken or broken further. How likely a day is kept
comes from playing the plan with stage times as this lab's own really spread.
"""

from __future__ import annotations

import time
from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime, timedelta

from cases.domain.planning import problem as plan
from cases.domain.planning.chance import Chance, chances
from cases.domain.planning.dispatch import Stop
from cases.domain.planning.quote import (
    Newcomer,
    Offer,
    Quote,
    needed_by,
    quote,
    say_harm,
    with_case,
)
from cases.domain.planning.why_words import Name
from cases.domain.route import Route
from cases.models import Case, Practice
from cases.selectors.planning.build import Built, build, vans
from cases.selectors.planning.places import SHARED, thing_key
from cases.selectors.planning.rows import EdgeRow, Open, StageRow
from cases.selectors.planning.spread import lab_spread
from cases.selectors.planning.work import CaseReader, case_key
from cases.services.grow import stage_fields
from cases.services.plan_think import mend_or_make

ASKED = -1
"""The primary key of a case that is only asked about; its stages have keys below it."""
MOST_VANS = 25
DAYS_SHOWN = 5
FIRST_SECONDS, CHANCE_SECONDS = 0.5, 4.0
"""How long days are looked at for one answer, and how long chances are worked out. Judgement."""
SURE = 0.9
"""From this chance on a day is promised without a second thought. Judgement."""
REPLAYS, FEW_REPLAYS = 120, 60
"""The standard error of a chance is then at most 4.6 points; of being sure, with few, 3.9."""
COMES_IN_THE_MORNING = 30
"""Minutes after opening at which an impression is taken to be here."""


@dataclass(frozen=True)
class Day:
    """One van: when it leaves, whether it may be promised, whom it would harm, how sure it is.

    ``chance`` is from 0 to 1, None while nobody has worked it out; ``error`` its standard error.
    """

    leaves: datetime
    safe: bool
    harm: tuple[str, ...] = ()
    chance: float | None = None
    error: float = 0


@dataclass(frozen=True)
class Answer:
    """What the planner says: the vans looked at, in order, and the earliest that is safe.

    ``latest`` is the last van that reaches the practice in time, where an appointment is known;
    ``needed_on`` the last day on which the impression must be here so that it is surely kept.
    ``looked_to`` is the last van that there was time to look at, where none was safe and there
    are more. ``last_known`` is the last van that the plan knows: beyond it nothing can be said.
    """

    days: tuple[Day, ...]
    earliest: Day | None
    latest: datetime | None = None
    needed_on: date | None = None
    looked_to: datetime | None = None
    last_known: datetime | None = None


def _until(seconds: float) -> Stop:
    ends = time.monotonic() + seconds
    return lambda: time.monotonic() >= ends


def _rows(routes: Sequence[Route]) -> tuple[list[StageRow], list[EdgeRow]]:
    """Return the stages and edges that a case would have, not stored."""
    stages: list[StageRow] = []
    edges: list[EdgeRow] = []
    for number, route in enumerate(routes):
        # Two arches are two networks of one case that leaves when both are done.
        mark = f"{number}." if number else ""
        for position, planned in enumerate(route.stages, start=1):
            columns = stage_fields(planned, position)
            del columns["position"]
            pk, key = ASKED - 1 - len(stages), f"{mark}{planned.spec.key}"
            stages.append(StageRow(pk=pk, case_id=ASKED, key=key, **columns))
        edges += [
            EdgeRow(
                ASKED,
                f"{mark}{edge.before}",
                f"{mark}{edge.after}",
                edge.min_wait,
                edge.max_wait,
            )
            for edge in route.edges
        ]
    return stages, edges


def newcomer(
    built: Built, routes: Sequence[Route], practice: Practice, now: datetime, *, release: int = 0
) -> Newcomer:
    """Return a case with these routes as the planner reads it; it comes at minute ``release``."""
    case = Case(pk=ASKED, practice=practice)
    stages, edges = _rows(routes)
    reader = CaseReader(Open(case, stages, edges), built.around)
    cast = reader.cast()
    counted = {thing.key for thing in built.problem.things}
    kinds = [kind for kind in SHARED if thing_key(kind) in counted]
    return Newcomer(
        plan.Case(
            case_key(ASKED),
            built.problem.horizon,
            release=release,
            vans=vans(practice, built.calendar, built.clock, built.calendar.local_day(now)),
        ),
        tuple(reader.stages()),
        (*reader.held(kinds, {}), *cast),
        (plan.Thing(cast[0].thing),) if cast else (),
    )


def ask(
    routes: Sequence[Route],
    practice: Practice,
    *,
    now: datetime,
    comes_on: date | None = None,
    latest: datetime | None = None,
    after: datetime | None = None,
    with_chance: bool = False,
) -> Answer:
    """Return the earliest van that may be promised, and what the vans about it would mean.

    Parameters
    ----------
    comes_on
        When the impression will be here; None: it is here.
    latest
        The last van that reaches the practice in time for its appointment.
    after
        Looks only at vans after this one: how far an answer before came.
    with_chance
        Whether to work out how likely each day is kept, and by when the impression is needed; it
        takes longer.
    """
    built = build(now)
    # A case whose limit cannot be kept takes hands all the same: it is planned without the limit.
    kept = mend_or_make(built.problem, _until(FIRST_SECONDS))
    built, standing = replace(built, problem=kept.problem), kept.plan
    stop = _until(FIRST_SECONDS)
    release = _opens(built, comes_on) if comes_on else 0
    new = newcomer(built, routes, practice, now, release=release)
    seen = built.clock.not_before(after) if after else -1
    days = [van for van in new.case.vans if van >= release and van > seen][:MOST_VANS]
    found = quote(built.problem, standing, new, days, stop=stop)
    chance = None
    if with_chance and found.earliest is not None:
        chance = _chance(built, new, found.earliest, now)
    shown = _days(built, found.offers, days, chance)
    earliest = found.earliest
    needed, known = None, built.clock.instant(max(new.case.vans)) if new.case.vans else None
    if with_chance and latest and comes_on is None and known and latest <= known:
        needed = _needed(built, standing, new, latest, now)
    return Answer(
        shown,
        next((day for day in shown if earliest and day.leaves == _at(built, earliest)), None),
        latest,
        needed,
        _looked_to(built, found, days, stop),
        known,
    )


def _looked_to(built: Built, found: Quote, days: Sequence[int], stop: Stop) -> datetime | None:
    if found.earliest is not None or not found.offers or not stop():
        return None
    last = found.offers[-1].day
    return built.clock.instant(last) if last < days[-1] else None


def _at(built: Built, offer: Offer) -> datetime:
    return built.clock.instant(offer.day)


def _opens(built: Built, day: date) -> int:
    """Return the minute of a morning at which what came is unpacked."""
    hours = built.calendar.open_intervals(day)
    if not hours:
        return max(0, built.clock.not_before(built.calendar.next_open(_midnight(built, day))))
    return max(0, built.clock.not_before(hours[0][0]) + COMES_IN_THE_MORNING)


def _midnight(built: Built, day: date) -> datetime:
    return built.calendar.at(day, datetime.min.time())


def _chance(
    built: Built, new: Newcomer, offer: Offer, now: datetime, replays: int = REPLAYS
) -> Chance:
    problem = with_case(built.problem, new, offer.day)
    return chances(
        problem,
        offer.plan,
        cases=[new.case.key],
        spread_of=lab_spread(now, built.rows),
        replays=replays,
        stop=_until(CHANCE_SECONDS),
    )[new.case.key]


def _days(
    built: Built, offers: Sequence[Offer], vans_: Sequence[int], chance: Chance | None
) -> tuple[Day, ...]:
    """Return the last vans before the earliest safe one, that one, and the next, as days."""
    name: Name = built.name
    asked = {offer.day: offer for offer in offers}
    last = max(asked, default=0)
    around = [van for van in vans_ if van <= last][-DAYS_SHOWN + 1 :]
    after = [van for van in vans_ if van > last][:2] if offers and offers[-1].safe else []
    return tuple(
        Day(
            built.clock.instant(van),
            safe=van in after or (van in asked and asked[van].safe),
            harm=tuple(say_harm(one, name) for one in asked[van].harmed) if van in asked else (),
            chance=chance.by(van) if chance else None,
            error=chance.error(van) if chance else 0,
        )
        for van in (*around, *after)
        if van in asked or van in after
    )


def _needed(
    built: Built,
    standing: plan.Plan,
    new: Newcomer,
    latest: datetime,
    now: datetime,
) -> date | None:
    """Return the last day on which the impression may come so that the last van is surely kept."""

    def sure(later: Newcomer, offer: Offer) -> bool:
        return _chance(built, later, offer, now, FEW_REPLAYS).by(offer.day) >= SURE

    today, last = built.calendar.local_day(now), built.calendar.local_day(latest)
    mornings = {}
    for ahead in range(1, (last - today).days):
        day = today + timedelta(days=ahead)
        if built.calendar.open_intervals(day):
            mornings[_opens(built, day)] = day
    found = needed_by(
        built.problem,
        standing,
        new,
        built.clock.until(latest),
        mornings,
        enough=sure,
        stop=_until(CHANCE_SECONDS),
    )
    return mornings[found[0]] if found else None
