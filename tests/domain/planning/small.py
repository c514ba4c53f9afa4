"""A small lab with one of everything, for plans that are broken in one way each."""

from __future__ import annotations

from cases.domain.planning.problem import (
    After,
    Bath,
    Case,
    Held,
    Person,
    Problem,
    Program,
    Stage,
    Station,
    Thing,
)

DAY = 24 * 60
HOURS = tuple((day * DAY, day * DAY + 480) for day in range(20))
BOTH = (("wax", 1.0), ("pack", 1.0))


def stages_of(case: str) -> tuple[Stage, ...]:
    return (
        Stage(f"{case} wax", case, "attended", 30, "wax", "bench", batch="wax", setup=10, sign=5),
        Stage(
            f"{case} pack", case, "attended", 20, "pack", "press",
            (After(f"{case} wax", 15, 60),), pausable=False,
        ),
        Stage(
            f"{case} cure", case, "load", 0, "pack", after=(After(f"{case} pack", 0, 120),),
            program="long",
        ),
        Stage(f"{case} cool", case, "unattended", 45, after=(After(f"{case} cure"),)),
    )  # fmt: skip


def small(cases: int = 2) -> Problem:
    names = [f"case {at}" for at in range(cases)]
    return Problem(
        cases=tuple(Case(name, 600) for name in names),
        stages=tuple(stage for name in names for stage in stages_of(name)),
        persons=(
            Person("Ada", BOTH, HOURS, may_sign=True),
            Person("Bo", (("wax", 1.5),), HOURS, student=True),
        ),
        stations=(Station("bench", 2), Station("press")),
        things=(Thing("flask", 2),),
        held=tuple(Held("flask", f"{name} pack", f"{name} cool") for name in names),
        programs=(Program("long", 540, hands=6),),
        baths=(Bath("bath", 2, ("long",)),),
        batch_limits=(("wax", 2),),
    )
