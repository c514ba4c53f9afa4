"""PATH and BLK: designs that trip each rule, each beside one that just does not."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

from cases.domain.design import Design, WorkOrder
from cases.domain.design_parts import Survey, Undercut
from tests.domain.rule_designs import (
    ALONE,
    CLASP_34,
    CLASP_44,
    FREE,
    FRONT,
    GAP,
    GAUGED,
    SURVEYED,
    UPPER,
    Pair,
    found,
    of,
    wire,
)


def path_pairs() -> Iterator[Pair]:
    yield (
        "PATH-1",
        "advice",
        "",
        of(FREE, survey=replace(SURVEYED, tilt_deg=10.5, tilt_to="front")),
        of(FREE, survey=replace(SURVEYED, tilt_deg=10.0, tilt_to="front")),
    )
    yield "PATH-2", "concession", "44", wire(level_mm=0.0), wire(level_mm=0.25)
    yield "PATH-2", "concession", "44", wire(level_mm=0.0), wire(level_mm=None)
    yield "PATH-2", "concession", "44", wire(level_mm=0.0), wire(level_mm=0.0, undercut_mm=0.0)
    # The clasp says nothing of level: the survey of its face does.
    flat, held, behind = (
        replace(
            GAUGED,
            undercuts=(
                *(one for one in GAUGED.undercuts if (one.tooth, one.side) != (34, side)),
                Undercut(34, side, 0.25, level),  # type: ignore[arg-type]
            ),
        )
        for side, level in (("buccal", 0.0), ("buccal", 0.25), ("lingual", 0.0))
    )
    silent = replace(CLASP_34, level_mm=None)
    tip = of(FREE, clasps=(CLASP_44, silent), survey=flat)
    for other in (held, behind):
        yield "PATH-2", "concession", "34", tip, of(FREE, clasps=(CLASP_44, silent), survey=other)
    unsaid = replace(silent, undercut_mm=None)
    yield (
        "PATH-2", "concession", "34",
        of(FREE, clasps=(CLASP_44, unsaid), survey=flat),
        of(FREE, clasps=(CLASP_44, unsaid), survey=held),
    )  # fmt: skip
    yield "PATH-2", "concession", "34", of(FREE, survey=flat), of(FREE, survey=held)
    less, same = ((46, "mesial", 0.25), (44, "distal", 0.5)), (
        (46, "mesial", 0.25), (44, "distal", 0.25),
    )  # fmt: skip
    yield "PATH-3", "advice", "base 45", of(GAP, survey=found(*less)), of(GAP, survey=found(*same))
    yield (
        "PATH-3",
        "advice",
        "base 45",
        of(GAP, survey=found(*less)),
        of(GAP, survey=found((46, "mesial", 0.0), (44, "distal", 0.5))),
    )
    yield (
        "PATH-4",
        "advice",
        "12 mesial",
        of(FRONT, survey=found((12, "mesial", 0.25))),
        of(FRONT, survey=found((12, "mesial", 0.0))),
    )
    yield (
        "PATH-4",
        "advice",
        "22 mesial",
        of(FRONT, survey=found((22, "mesial", 0.25))),
        of(UPPER, survey=found((14, "distal", 0.25))),
    )
    yield "PATH-5", "cannot", "", of(FREE, survey=Survey()), of(FREE)
    yield (
        "PATH-5",
        "cannot",
        "",
        of(FREE, survey=Survey(tilt_deg=3.0, tilt_to="front")),
        of(FREE, {"order": WorkOrder(kind="repair")}, survey=Survey()),
    )
    for face in ("distal", "buccal", "lingual"):
        seen = tuple(one for one in GAUGED.undercuts if (one.tooth, one.side) != (44, face))
        blind = of(FREE, survey=replace(GAUGED, undercuts=seen))
        yield "PATH-6", "concession", "44", blind, of(FREE)
    blind = of(FREE, {"order": WorkOrder(kind="repair")}, survey=SURVEYED)
    yield "PATH-6", "concession", "44", of(FREE, survey=SURVEYED), blind
    yield "PATH-6", "concession", "16", of(UPPER), of(Design("upper", survey=SURVEYED))


def copy_pairs() -> Iterator[Pair]:
    """BLK-0 to BLK-7: what is advised."""
    none = of(GAP, survey=found((44, "distal", 0.0), (46, "mesial", 0.0)))
    some = of(GAP, survey=found((44, "distal", 0.25), (46, "mesial", 0.0)))
    deep = of(GAP, survey=found((44, "distal", 0.75)))
    yield "BLK-0", "info", "", none, of(Design("lower", survey=SURVEYED))
    yield "BLK-1", "advice", "", none, some
    yield "BLK-1", "advice", "", none, of(GAP)
    yield "BLK-2", "advice", "", some, none
    yield "BLK-2", "advice", "", some, deep
    yield "BLK-3", "advice", "44 distal", deep, of(GAP, survey=found((44, "distal", 0.5)))
    yield (
        "BLK-3",
        "advice",
        "14 lingual",
        of(UPPER, survey=found((14, "lingual", 1.0))),
        of(UPPER, survey=found((14, "lingual", 0.75))),
    )
    three = ((33, "distal", 0.25), (35, "mesial", 0.25), (37, "mesial", 0.25))
    yield (
        "BLK-3",
        "advice",
        "",
        of(ALONE, survey=found(*three)),
        of(ALONE, survey=found(*three[:2])),
    )
    both = ((35, "mesial", 0.25), (35, "distal", 0.25))
    yield (
        "BLK-4",
        "advice",
        "35",
        of(ALONE, survey=found(*both)),
        of(ALONE, survey=found((35, "mesial", 0.5), (35, "distal", 0.0))),
    )
    walls = ((16, "mesial", 0.5), (14, "distal", 0.25))
    yield (
        "BLK-5",
        "advice",
        "base 15",
        of(UPPER, survey=found(*walls)),
        of(UPPER, survey=found((16, "mesial", 0.25), (14, "distal", 0.25))),
    )
    for told in ("fit_back", "cast_goes_home", "later_piece", "last_did_not_seat"):
        yield "BLK-6", "advice", "", of(GAP, {told: True}), of(GAP)
    rough = {"order": WorkOrder(polish="none")}
    yield "BLK-6", "advice", "", of(FREE, rough), of(FREE)
    yield "BLK-6", "advice", "", of(FREE, rough), of(GAP, rough)
    yield "BLK-7", "advice", "", deep, some


def block_pairs() -> Iterator[Pair]:
    """BLK-8 to BLK-15: what must not be done, and what is decided otherwise."""
    yield "BLK-8", "cannot", "", of(GAP, method="wax"), of(GAP, method="wax-then-copy")
    one, two = (46, "buccal", 0.75), (46, "lingual", 0.25)
    yield (
        "BLK-9",
        "advice",
        "base 45-47",
        of(FREE, survey=found(one, two)),
        of(FREE, survey=found(one)),
    )
    yield (
        "BLK-9",
        "advice",
        "base 45-47",
        of(FREE, survey=found((46, "buccal", 1.0))),
        of(FREE, survey=found((46, "buccal", 1.0)), blocked=frozenset({(46, "buccal")})),
    )
    mild = of(FREE, survey=found(one))
    eased = of(FREE, survey=found(one), blocked=frozenset({(46, "buccal")}))
    yield "BLK-9", "info", "base 45-47", mild, eased
    right, left = (47, "lingual", 0.25), (37, "lingual", 0.25)
    yield (
        "BLK-10", "info", "ridge 47 lingual",
        of(FREE, survey=found(right)), of(FREE, survey=found(right, left)),
    )  # fmt: skip
    yield (
        "BLK-10",
        "advice",
        "ridge 47 lingual",
        of(FREE, survey=found(right, left)),
        of(FREE, survey=found(right)),
    )
    yield (
        "BLK-10",
        "advice",
        "ridge 47 lingual",
        of(FREE, survey=found((47, "lingual", 1.0))),
        of(FREE, survey=found((47, "lingual", 0.75))),
    )
    leans = found((44, "lingual", 0.25))
    yield (
        "BLK-11",
        "concession",
        "44 lingual",
        of(GAP, survey=leans),
        of(GAP, survey=leans, blocked=frozenset({(44, "lingual")}), method="plaster"),
    )
    yield (
        "BLK-11",
        "concession",
        "44 lingual",
        of(GAP, survey=leans),
        of(UPPER, survey=found((14, "lingual", 0.25))),
    )
    buccal, lingual = frozenset({(44, "buccal")}), frozenset({(44, "lingual")})
    yield "BLK-12", "cannot", "44 buccal", of(FREE, blocked=buccal), of(FREE, blocked=lingual)
    plaster = {"blocked": lingual, "method": "plaster"}
    yield "BLK-13", "info", "", of(GAP, **plaster), of(GAP)
    yield "BLK-13", "info", "", of(GAP, **plaster, taper_deg=0.0), of(GAP, **plaster, taper_deg=2.0)
    yield "BLK-13", "advice", "", of(GAP, **plaster, taper_deg=2.0), of(GAP, **plaster)
    yield "BLK-13", "advice", "", of(GAP, **plaster, taper_deg=2.0), of(GAP, taper_deg=2.0)
    bare = frozenset({(44, "distal")})
    yield "BLK-0", "concession", "44 distal", of(GAP, unrelieved=bare), of(GAP)
    yield (
        "BLK-0", "concession", "44 distal",
        of(GAP, unrelieved=bare),
        of(GAP, {"order": WorkOrder(kind="repair")}, unrelieved=bare),
    )  # fmt: skip
    deep = found((44, "distal", 0.75))
    yield (
        "BLK-14",
        "advice",
        "",
        of(GAP, {"half_days_left": 0.5}, survey=deep),
        of(GAP, {"half_days_left": 1.0}, survey=deep),
    )
    yield (
        "BLK-14",
        "advice",
        "",
        of(GAP, {"half_days_left": 0.5}, survey=deep),
        of(GAP, {"half_days_left": 0.5}, survey=found((44, "distal", 0.25))),
    )
    yield (
        "BLK-15",
        "cannot",
        "",
        of(GAP, survey=deep, method="plaster"),
        of(GAP, survey=deep, method="copy-then-plaster"),
    )
    yield "BLK-15", "info", "", of(GAP, survey=deep, method_reason="no-time"), of(GAP)
