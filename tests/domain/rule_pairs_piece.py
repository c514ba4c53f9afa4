"""CLP, SUP, BAR and THK: designs that trip each rule, each beside one that just does not."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

from cases.domain.design import WorkOrder
from cases.domain.design_parts import Bar
from tests.domain.rule_designs import (
    BACK,
    CLASP_34,
    CLASP_44,
    FREE,
    GAP,
    UPPER,
    Pair,
    bar,
    of,
    wire,
)


def clasp_pairs() -> Iterator[Pair]:
    yield "CLP-1", "advice", "44", wire(wire_mm=1.0), wire(wire_mm=0.95)
    yield "CLP-1", "advice", "44", wire(undercut_mm=0.5), wire(undercut_mm=None)
    molar = {"missing": frozenset({44, 45}), "replaced": frozenset({44, 45}), "bar": False}
    big = replace(CLASP_44, tooth=46, wire_mm=1.0, undercut_mm=0.5, tip="distal")
    yield (
        "CLP-1", "advice", "46",
        of(FREE, **molar, clasps=(replace(big, free_arm_mm=11.5),)),
        of(FREE, **molar, clasps=(replace(big, free_arm_mm=12.0),)),
    )  # fmt: skip
    front = {"clasps": (replace(CLASP_44, tooth=43, wire_mm=0.8),)}
    thick, deep = (
        (replace(front["clasps"][0], **change),)
        for change in ({"wire_mm": 0.9}, {"undercut_mm": 0.5})
    )
    yield "CLP-1", "advice", "43", of(FREE, clasps=thick), of(FREE, **front)
    yield "CLP-1", "advice", "43", of(FREE, clasps=deep), of(FREE, **front)
    # E 160-200, yield 1100-1760: one premolar wire with the arm made shorter and shorter.
    yield "CLP-2", "advice", "44", wire(free_arm_mm=9.0), wire(free_arm_mm=9.5)
    yield "CLP-2", "concession", "44", wire(free_arm_mm=7.5), wire(free_arm_mm=9.0)
    yield "CLP-2", "concession", "44", wire(free_arm_mm=5.5), wire(free_arm_mm=None)
    thin = {"free_arm_mm": 7.5, "tip_wire_mm": 0.45}
    yield "CLP-2", "concession", "44", wire(free_arm_mm=7.5), wire(**thin)
    yield "CLP-3", "advice", "44", wire(free_arm_mm=6.6), wire(**{**thin, "free_arm_mm": 6.6})
    yield "CLP-3", "advice", "44", wire(free_arm_mm=6.6), wire(free_arm_mm=6.7)
    yield "CLP-3", "advice", "44", wire(free_arm_mm=14.5), wire(free_arm_mm=14.0)
    short, stiff, soft, long = (
        tuple(replace(one, free_arm_mm=arm) for one in FREE.clasps)
        for arm in (7.3, 7.5, 11.0, 11.3)
    )
    yield "CLP-4", "advice", "", of(FREE, clasps=short), of(FREE, clasps=stiff)
    yield "CLP-4", "advice", "", of(FREE, clasps=long), of(FREE, clasps=soft)
    yield (
        "CLP-4",
        "advice",
        "",
        of(FREE, clasps=short),
        of(FREE, clasps=(short[0], replace(short[1], wire_mm=None))),
    )
    yield "CLP-5", "concession", "44", wire(wraps=False), wire(wraps=True)
    yield "CLP-5", "concession", "44", wire(wraps=False), wire(wraps=None)
    yield "CLP-6", "concession", "44", wire(bracing=""), wire()
    yield "CLP-6", "concession", "44", wire(bracing="none"), wire(bracing="collar")
    yield "CLP-6", "concession", "44", wire(bracing_mm=-0.1), wire(bracing_mm=0.0)
    yield "CLP-6", "concession", "44", wire(bracing_mm=None), wire(bracing_mm=0.5)
    for judged in (False, None):
        yield "CLP-6", "concession", "44", wire(braces_first=judged), wire(braces_first=True)
    yield "CLP-7", "advice", "44", wire(tip="distal"), wire(tip="mesial")
    yield "CLP-7", "advice", "44", wire(tip=""), wire()
    yield "CLP-7", "advice", "44", wire(face="lingual"), wire()
    # Beside a bounded gap only the tip that points at it is advised against.
    for change in ({"tip": ""}, {"face": "lingual"}):
        bounded = of(GAP, clasps=(replace(CLASP_44, **change),))
        yield "CLP-7", "advice", "44", wire(**change), bounded
    yield "CLP-7", "advice", "44", wire(gum_mm=0.9), wire(gum_mm=1.0)
    yield "CLP-8", "concession", "44", wire(room_mm=1.3), wire(room_mm=1.4)
    yield "CLP-9", "advice", "44", wire(state="loose"), wire(state="")
    yield "CLP-9", "advice", "44", wire(state="to-be-lost"), wire()
    yield "CLP-9", "advice", "44", wire(state="root-filled"), wire()
    told = {"nickel": True}
    yield "CLP-10", "cannot", "44", of(FREE, told), of(FREE)
    yield "CLP-10", "cannot", "44", of(FREE, told), of(FREE, {**told, "alloy_named": "stainless"})
    gold = tuple(replace(one, alloy="gold") for one in FREE.clasps)
    yield "CLP-10", "cannot", "34", of(FREE, told), of(FREE, told, clasps=gold, bar=False)
    yield "CLP-10", "cannot", "bar", of(FREE, told, clasps=gold), of(FREE, told, bar=False)
    named = {**told, "alloy_named": "gold"}
    yield "CLP-10", "cannot", "bar", of(FREE, named, clasps=gold), of(FREE, named, bar=False)
    yield "CLP-11", "advice", "", of(FREE, clasps=(CLASP_44,)), of(FREE)
    yield "CLP-11", "advice", "", of(FREE, clasps=()), of(FREE)
    yield from count_pairs()
    three = (*FREE.clasps, replace(CLASP_44, tooth=43))
    yield (
        "CLP-11",
        "advice",
        "",
        of(FREE, clasps=three),
        of(FREE, clasps=three, missing=BACK - {45, 46, 47}, replaced=BACK - {45, 46, 47}),
    )
    yield "CLP-12", "concession", "44", wire(joint_mm=5.9), wire(joint_mm=6.0)
    yield "CLP-13", "cannot", "44", wire(gauge="19"), wire(gauge="19", gauge_system="awg")
    yield "CLP-13", "cannot", "bar", bar(gauge="12"), bar(gauge="12", gauge_system="swg")
    for part in ("wire_mm", "free_arm_mm", "undercut_mm"):
        yield "CLP-14", "cannot", "44", wire(**{part: None}), wire()
    yield "CLP-14", "cannot", "44", wire(tip=""), wire()
    mended, eased = ({"order": WorkOrder(kind=kind)} for kind in ("repair", "adjustment"))
    blank = (replace(CLASP_44, wire_mm=None), CLASP_34)
    yield "CLP-14", "concession", "44", of(FREE, mended, clasps=blank), of(FREE, mended)
    yield (
        "CLP-14", "concession", "44",
        of(FREE, mended, clasps=blank), of(FREE, eased, clasps=blank),
    )  # fmt: skip


def count_pairs() -> Iterator[Pair]:
    """For each class one clasp more than usual, beside as many as usual."""
    for missing, teeth in (
        (BACK, (44, 34, 33)),
        (BACK - {45, 46, 47}, (34, 44, 46, 47)),
        (frozenset({45}), (44, 46, 34, 36, 37)),
        (frozenset({31, 41}), (44, 34, 33)),
    ):
        many = tuple(replace(CLASP_44, tooth=tooth) for tooth in teeth)
        design = replace(FREE, missing=missing, replaced=missing)
        yield "CLP-11", "advice", "", of(design, clasps=many), of(design, clasps=many[:-1])


def piece_pairs() -> Iterator[Pair]:
    yield "SUP-1", "advice", "", of(FREE), of(GAP)
    crossed = replace(CLASP_44, room_mm=1.0)
    yield (
        "SUP-2",
        "advice",
        "44",
        of(GAP, clasps=(crossed,)),
        of(GAP, clasps=(replace(crossed, room_mm=0.9),)),
    )
    yield (
        "SUP-2",
        "advice",
        "44",
        of(GAP, clasps=(replace(crossed, room_mm=1.5),)),
        of(GAP, clasps=(crossed,), rests=frozenset({44})),
    )
    yield (
        "SUP-2",
        "advice",
        "44",
        # What the other wall of the gap carries is no support of this one.
        of(GAP, clasps=(crossed,), stops=frozenset({46})),
        of(GAP, clasps=(crossed,), stops=frozenset({44, 46})),
    )
    yield (
        "SUP-2",
        "info",
        "base 45",
        of(GAP, clasps=(crossed,)),
        of(GAP, clasps=(crossed,), rests=frozenset({46})),
    )
    bare = replace(FREE, bar=False, strengthener=None)
    yield "BAR-1", "advice", "bar", of(bare), of(FREE)
    yield "BAR-1", "advice", "bar", of(bare), of(bare, strengthener=Bar(reason="no room"))
    yield (
        "BAR-1",
        "advice",
        "bar",
        of(GAP, plate_height_mm=7.9),
        of(GAP, plate_height_mm=8.0),
    )
    yield (
        "BAR-1",
        "advice",
        "bar",
        of(UPPER, {"broke_before": True}),
        of(UPPER, {"heavy_bite": True}),
    )
    yield "BAR-1", "advice", "bar", of(GAP, {"heavy_bite": True}), of(GAP)
    yield (
        "BAR-2",
        "cannot",
        "bar",
        of(UPPER, bar=True),
        of(UPPER, bar=True, strengthener=Bar(reason="thin palate")),
    )
    yield "BAR-2", "cannot", "bar", of(UPPER, bar=True), of(UPPER, {"broke_before": True}, bar=True)
    yield "BAR-3", "advice", "bar", bar(size_mm=2.0), bar(size_mm=2.0525)
    yield (
        "BAR-3",
        "advice",
        "bar",
        bar(section="round", size_mm=1.6),
        bar(section="round", size_mm=1.5),
    )
    yield "BAR-3", "advice", "bar", bar(size_mm=2.6), bar(size_mm=2.5882)
    yield (
        "BAR-3",
        "advice",
        "bar",
        bar(section="round", size_mm=1.1),
        bar(section="round", size_mm=1.2),
    )
    yield "BAR-3", "advice", "bar", bar(relief_mm=1.1), bar(relief_mm=1.0)
    yield "BAR-3", "advice", "bar", bar(relief_mm=0.4), bar(relief_mm=0.5)
    yield "BAR-3", "advice", "bar", bar(cover_mm=0.9), bar(cover_mm=None)
    # Half of 2.3 mm, 0.7 mm off the cast, reaches 1.85 mm.
    drawn = replace(FREE, strengthener=replace(bar().design.strengthener, cover_mm=None))
    yield (
        "BAR-3", "cannot", "bar",
        of(FREE, plate_thickness_mm=1.8), of(FREE, plate_thickness_mm=1.85),
    )  # fmt: skip
    yield (
        "BAR-3", "advice", "bar",
        of(drawn, plate_thickness_mm=2.8), of(drawn, plate_thickness_mm=2.85),
    )  # fmt: skip
    yield (
        "BAR-3", "advice", "bar",
        of(drawn, plate_thickness_mm=2.5), of(FREE, plate_thickness_mm=2.5),
    )  # fmt: skip
    yield "BAR-3", "cannot", "bar", of(FREE, plate_height_mm=2.2), of(FREE, plate_height_mm=2.3)
    yield "BAR-4", "info", "bar", of(FREE), bar(size_mm=None)
    yield "BAR-5", "concession", "bar", bar(in_grinding=True), bar()
    for place, least in (
        ("lower-plate", 2.0), ("palate", 1.5), ("flange", 2.0),
        ("over-wire", 1.0), ("pad-edge", 2.0), ("tooth-join", 2.0),
    ):  # fmt: skip
        yield (
            "THK-1",
            "concession",
            place,
            of(FREE, {"thickness_mm": {place: least - 0.1}}),
            of(FREE, {"thickness_mm": {place: least}}),
        )
    thin = of(FREE, plate_thickness_mm=1.9)
    yield "THK-1", "concession", "lower-plate", thin, of(FREE, plate_thickness_mm=2.0)
    yield (
        "THK-1",
        "concession",
        "palate",
        of(UPPER, plate_thickness_mm=1.4),
        of(UPPER, {"thickness_mm": {"palate": 1.6}}, plate_thickness_mm=1.4),
    )
    yield "THK-2", "advice", "", of(FREE, {"thickest_mm": 6.1}), of(FREE, {"thickest_mm": 6.0})
    yield "THK-2", "advice", "", of(FREE, {"thickest_mm": 10.1}), of(FREE)
