"""Stations, things and baths as the planner reads them, and the loads that are in the baths."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass, field

from cases.domain.cure.program import Program, read_program
from cases.domain.planning import problem as plan
from cases.domain.words import N_
from cases.models import Bath, CureProgram, Lab, Load, LoadFlask, Occupied, Station, Thing
from cases.selectors.cure_settings import in_use
from cases.selectors.planning.clock import Clock
from cases.selectors.resin import packed_cases

ROUTE_PROGRAM = "route"
"""The cure of a lab that has entered no program yet: it lasts as long as the route's wait."""
ANYWHERE = "any"
"""The station of stages that need no place of their own."""
SHARED = ("flask", "articulator", "clamp")
"""Kinds of things that cases share and hold over several stages."""
SHARED_WORDS = {
    "flask": N_("a flask"), "articulator": N_("an articulator"), "clamp": N_("a clamp"),
}  # fmt: skip


def bath_key(pk: int) -> str:
    """Return the planner's name of a bath."""
    return f"b{pk}"


def bath_pk(key: str) -> int | None:
    """Return the primary key behind the planner's name of a bath, None for none."""
    return int(key[1:]) if key else None


def station_key(key: str) -> str:
    """Return the planner's name of a station: a skill or a thing may have the same key."""
    return f"station {key}"


def thing_key(kind: str) -> str:
    """Return the planner's name of a kind of things that cases share."""
    return f"thing {kind}"


def stations() -> tuple[plan.Station, ...]:
    """Return the stations by key (one query), without the one that means any place."""
    rows = Station.objects.filter(count__gt=0).exclude(key=ANYWHERE).order_by("key")
    return tuple(plan.Station(station_key(row.key), row.count) for row in rows)


def thing_counts() -> dict[str, int]:
    """Return how many the lab has of each kind that cases share (one query)."""
    kinds = Thing.objects.filter(kind__in=SHARED, case__isnull=True, state="in-use")
    return dict(Counter(kinds.order_by().values_list("kind", flat=True)))


def held_now() -> dict[tuple[int, str], list[Occupied]]:
    """Return what cases hold, by case and kind (one query)."""
    found: dict[tuple[int, str], list[Occupied]] = {}
    rows = Occupied.objects.filter(freed_at__isnull=True, thing__kind__in=SHARED)
    for row in rows.select_related("thing").order_by("pk"):
        found.setdefault((row.case_id, row.thing.kind), []).append(row)
    return found


@dataclass(frozen=True)
class InBath:
    """A load that is in a bath, as the planner sees each of its stages."""

    running: plan.Running
    program: str


@dataclass(frozen=True)
class Baths:
    """Baths, programs, which program a case gets that is in no load yet, and what is in them.

    ``loads`` and ``gathered`` are by the primary key of the stage *cure*: what is in a bath, and
    the program of the load that a flask is gathered for. ``of_resin`` is the program for cases
    packed with a resin; ``names`` is what people call the programs.
    """

    baths: tuple[plan.Bath, ...]
    programs: tuple[plan.Program, ...]
    usual: str
    loads: dict[int, InBath]
    gathered: dict[int, str] = field(default_factory=dict)
    packed: dict[int, int] = field(default_factory=dict)
    of_resin: dict[int, str] = field(default_factory=dict)
    names: dict[str, str] = field(default_factory=dict)

    def program_of(self, case: int, stage: int) -> str:
        """Return the program of a cure to come: of its load, of its resin, else the usual one."""
        resin = self.packed.get(case, 0)
        return self.gathered.get(stage) or self.of_resin.get(resin) or self.usual


def _hottest(program: Program) -> float:
    return max(hold.celsius for hold in program.stages)


def baths(clock: Clock, *, load_hands: int, route_minutes: int) -> Baths:
    """Return the baths and what is in them (eight queries).

    Parameters
    ----------
    load_hands
        Minutes of hands that loading takes, from the route.
    route_minutes
        How long the cure lasts where the lab has no program of its own.
    """
    altitude = Lab.objects.values_list("altitude_m", flat=True).first() or 0
    rows = {f"c{row.pk}": row for row in in_use().order_by("pk")}
    usual = _usual(rows)
    of_resin = {row.resin_id: key for key, row in reversed(rows.items())}
    if usual in rows:
        of_resin[rows[usual].resin_id] = usual
    loads = list(Load.objects.filter(state__in=("running", "gathering")).select_related("program"))
    rows |= {f"c{load.program_id}": load.program for load in loads}
    documents = {key: read_program(row.document).at_altitude(altitude) for key, row in rows.items()}
    programs = [
        plan.Program(key, max(1, round(one.bath_minutes)), load_hands)
        for key, one in sorted(documents.items())
    ]
    if not documents:
        programs, usual = [plan.Program(ROUTE_PROGRAM, route_minutes, load_hands)], ROUTE_PROGRAM
    found = []
    for bath in Bath.objects.filter(active=True).order_by("pk"):
        able = tuple(
            key
            for key, one in sorted(documents.items())
            if bath.highest_c is None or _hottest(one) <= bath.highest_c
        )
        found.append(plan.Bath(bath_key(bath.pk), bath.capacity, able or (usual,)[: not documents]))
    usual = usual or min(documents, default=ROUTE_PROGRAM)
    in_bath, gathered = _in_loads(loads, clock)
    names = {key: row.name for key, row in rows.items()}
    return Baths(
        tuple(found), tuple(programs), usual, in_bath, gathered, packed_cases(), of_resin, names
    )


def _usual(rows: dict[str, CureProgram]) -> str:
    """Return the program that the last load had, where it is in use, else the first."""
    last = Load.objects.exclude(state="cancelled").order_by("-number").first()
    if last is not None and f"c{last.program_id}" in rows:
        return f"c{last.program_id}"
    return min(rows, default="")


def _in_loads(loads: list[Load], clock: Clock) -> tuple[dict[int, InBath], dict[int, str]]:
    """Return what is in a bath, and what is gathered for one, by the stage *cure*."""
    by_load = {load.pk: load for load in loads}
    found: dict[int, InBath] = {}
    gathered: dict[int, str] = {}
    for flask in LoadFlask.objects.filter(load__in=by_load, left_at__isnull=True):
        load = by_load[flask.load_id]
        if load.state == "gathering":
            gathered[flask.stage_id] = f"c{load.program_id}"
            continue
        if load.placed_at is None or load.ends_at is None:
            continue
        start, end = clock.until(load.placed_at), clock.not_before(load.ends_at)
        # Over, but not taken out yet: the bath is in use until somebody does.
        end = max(end, start + 1, 1)
        run = plan.Running(start, end, bath=bath_key(load.bath_id))
        found[flask.stage_id] = InBath(run, f"c{load.program_id}")
    return found, gathered
