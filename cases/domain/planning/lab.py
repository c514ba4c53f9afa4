"""An invented lab by number, to measure plans on: the default route in short, its hands and things.

Minutes and waits follow the default route. How many stations, flasks and hands a lab has, how
its people are skilled, and how tight its dates are: judgement.
"""

from __future__ import annotations

from dataclasses import dataclass
from random import Random

from cases.domain.planning.problem import (
    After,
    Bath,
    Case,
    Held,
    Person,
    Problem,
    Program,
    Span,
    Stage,
    Station,
    Thing,
)

DAY = 24 * 60
DAYS = 180
OVERNIGHT = Program("long cycle", 9 * 60, hands=6)


@dataclass(frozen=True)
class _Row:
    """A stage of the invented route: ``fixed`` minutes and so many for each of ``per``."""

    key: str
    fixed: int
    per: str
    each: int
    skill: str
    station: str
    least: int = 0
    most: int | None = None
    pausable: bool = True
    setup: int = 0


ROUTE = (
    _Row("pour", 16, "", 0, "model", "plaster-bench", pausable=False, setup=6),
    _Row("trim", 9, "", 0, "model", "trimmer", 60, None),
    _Row("survey", 10, "C", 2, "survey", "surveyor"),
    _Row("block-out", 8, "F", 2, "survey", "surveyor"),
    _Row("mount", 12, "", 0, "set-up", "", 20),
    _Row("clasps", 4, "C", 10, "wire", "", 20),
    _Row("teeth", 4, "T", 5, "set-up", "wax-bench"),
    _Row("wax", 12, "T", 3, "wax", "wax-bench"),
    _Row("flask-lower", 10, "", 0, "flask", "flask-bench", 10, None, setup=4),
    _Row("flask-upper", 10, "", 0, "flask", "flask-bench", 45, DAY),
    _Row("boil-out", 10, "", 0, "flask", "boil-out-unit", 60, DAY, pausable=False),
    _Row("separate", 6, "", 0, "flask", "flask-bench", 0, 30, pausable=False),
    _Row("pack", 22, "", 0, "pack", "press", 15, 12 * 60, pausable=False),
    _Row("cure", 0, "", 0, "pack", "", 30, 6 * 60),
    _Row("deflask", 10, "", 0, "pack", "flask-bench", 45),
    _Row("finish", 12, "T", 4, "finish", "finishing"),
    _Row("polish", 10, "T", 1, "finish", "polishing", setup=4),
    _Row("inspect", 8, "", 0, "inspect", ""),
)
SKILLS = ("model", "survey", "wire", "set-up", "wax", "flask", "pack", "finish", "inspect")


def _hours(random: Random, part_time: bool) -> tuple[Span, ...]:
    """Shifts with a lunch from Monday to Friday; minute 0 is a Monday at 8 o'clock."""
    free = random.randrange(5) if part_time else -1
    lunch = random.choice((210, 240, 270))
    end = random.choice((480, 510, 540))
    spans: list[Span] = []
    for day in range(DAYS):
        if day % 7 < 5 and day % 7 != free and random.random() > 0.02:
            start = day * DAY
            spans += [(start, start + lunch), (start + lunch + 30, start + end)]
    return tuple(spans)


def _people(random: Random, count: int) -> tuple[Person, ...]:
    people: list[Person] = []
    for at in range(count):
        # Everybody has some skills; going round makes sure that each skill is had by two.
        skills = {SKILLS[(at * 3 + step) % len(SKILLS)] for step in range(3)}
        skills |= set(random.sample(SKILLS, 5 if count < 9 else 2))
        paces = tuple(
            (skill, random.choice((0.9, 1.0, 1.0, 1.15, 1.3))) for skill in sorted(skills)
        )
        people.append(Person(f"technician {at + 1}", paces, _hours(random, random.random() < 0.2)))
    missing = set(SKILLS) - {skill for one in people for skill, _ in one.skills}
    if missing and people:
        first = people[0]
        more = tuple((skill, 1.1) for skill in sorted(missing))
        people[0] = Person(first.key, first.skills + more, first.hours)
    return tuple(people)


def _route(random: Random, key: str) -> tuple[list[Stage], list[Held]]:
    """The stages of a case from where it stands, and what it holds."""
    design = {
        "C": random.randint(2, 4),
        "T": random.randint(1, 7),
        "F": random.randint(0, 6),
        "": 0,
    }
    names = [row.key for row in ROUTE]
    # Where a case stands: before its flask, so that no wait with a last moment runs already.
    begun = random.randint(0, names.index("flask-lower"))
    stages: list[Stage] = []
    held = [Held("flask", f"{key} flask-lower", f"{key} deflask")]
    for at in range(begun, len(ROUTE)):
        row = ROUTE[at]
        earlier = [ROUTE[at - 1].key] if at else []
        if row.key == "clasps":  # beside mounting, not after it: both need only the cast
            earlier = ["block-out"]
        if row.key == "teeth":
            earlier = ["mount", "clasps"]
        after = tuple(
            After(f"{key} {one}", row.least, row.most)
            for one in earlier
            if names.index(one) >= begun
        )
        minutes = row.fixed + row.each * design[row.per]
        cure = row.key == "cure"
        stages.append(
            Stage(
                f"{key} {row.key}", key, "load" if cure else "attended", minutes, row.skill,
                row.station, after, row.pausable, batch=row.key if row.setup else "",
                setup=row.setup, program=OVERNIGHT.key if cure else "",
            )
        )  # fmt: skip
        if row.key in ("mount", "clasps"):
            rest = 30 if row.key == "mount" else 0
            held.append(Held(f"cast of {key}", f"{key} {row.key}", f"{key} {row.key}", rest))
    return stages, held


def invent(cases: int, technicians: int, number: int, *, loose: bool = False) -> Problem:
    """Return the invented lab of a number: the same numbers give the same lab."""
    random = Random(f"{cases} {technicians} {number} {loose}")  # noqa: S311 - repeatable, not secret
    people = _people(random, technicians)
    a_day = 430.0 * technicians * 0.85
    stages: list[Stage] = []
    held: list[Held] = []
    found: list[Case] = []
    routes = [_route(random, f"case {at + 1}") for at in range(cases)]
    work = sum(stage.minutes for own, _ in routes for stage in own) / a_day * 7 / 5
    for at, (own, holds) in enumerate(routes):
        key = f"case {at + 1}"
        rest = 3.0 * any(stage.kind == "load" for stage in own) + len(own) / 8
        room = (1.6 if loose else 0.75) * max(work, 2.0)
        day = int(1 + random.random() * room + rest * (1.5 if loose else 0.6))
        weight = random.choice((1.0, 1.0, 1.0, 1.0, 2.0, 4.0))
        found.append(Case(key, day * DAY + 8 * 60, weight))
        stages += own
        held += holds
    share = max(1, round(technicians / 4))
    return Problem(
        cases=tuple(found),
        stages=tuple(stages),
        persons=people,
        stations=tuple(
            Station(name, share * times)
            for name, times in (
                ("plaster-bench", 1), ("trimmer", 1), ("surveyor", 1), ("wax-bench", 2),
                ("flask-bench", 2), ("boil-out-unit", 1), ("press", 1), ("finishing", 1),
                ("polishing", 1),
            )
        ),
        things=(
            Thing("flask", 4 * technicians),
            *(Thing(f"cast of {case.key}") for case in found),
        ),
        held=tuple(held),
        programs=(OVERNIGHT,),
        baths=tuple(Bath(f"bath {at + 1}", 8, (OVERNIGHT.key,)) for at in range(share)),
        batch_limits=(("pour", 6), ("flask-lower", 4), ("polish", 4)),
    )  # fmt: skip
