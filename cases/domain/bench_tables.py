"""The part of the design that a bench needs at its stage, as small tables of numbers.

The wire bench reads wires with lengths and depths, the wax bench heights to reach, the finishing
bench what must not be ground away. Heads and words are for the screen to translate; a cell that is
a tooth is its FDI number, so that the screen writes it in the reader's notation.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace

from cases.domain.alloys import ALLOYS
from cases.domain.design import Clasp, Design
from cases.domain.plan_checks import COVERAGE_WORDS, USUAL_BRACING_MM
from cases.domain.subjects import faces, free_ends, standing
from cases.domain.teeth import teeth_of_arch
from cases.domain.words import N_, gettext

Kept = Mapping[str, Mapping[str, float]]
"""Values kept by earlier checks, by the check's key."""

# How far above the survey line the acrylic still stands when the finishing bench and the
# inspection are done: the reserve shrinks from wax to inspection. judgement, mm
RESERVE_MM: dict[str, float] = {"wax": 1.0, "finish": 0.5, "polish": 0.3, "inspect": 0.3}

BRACING_WORDS: dict[str, str] = {
    "": N_("not said"),
    "plate": N_("the plate"),
    "collar": N_("an acrylic collar"),
    "wire": N_("a second wire"),
    "none": N_("nothing, by concession"),
}

WIRE_REST = N_("wire rest")
ACRYLIC_STOP = N_("acrylic stop")


@dataclass(frozen=True, slots=True)
class Cell:
    """One cell: a tooth (``fdi``), a number with its unit, or words; a dash where nobody said."""

    words: str = ""
    fdi: int | None = None
    number: float | None = None
    unit: str = ""

    @property
    def empty(self) -> bool:
        """Whether nobody has said anything yet."""
        return not self.words and self.fdi is None and self.number is None


@dataclass(frozen=True, slots=True)
class Table:
    """A title, the heads of the columns, and a row for each thing to look at."""

    key: str
    title: str
    heads: tuple[str, ...]
    rows: tuple[tuple[Cell, ...], ...]


def _mm(value: float | None) -> Cell:
    return Cell() if value is None else Cell(number=round(value, 2), unit="mm")


def _wire(clasp: Clasp) -> Cell:
    """The wire in millimetres; with the gauge it was asked for, its section if not round, and what
    it is tapered to."""
    if clasp.wire_mm is None:
        asked = gettext("%(gauge)s, by which table is not said") % {"gauge": clasp.gauge}
        return Cell(asked) if clasp.gauge else Cell()
    plain = _plain_wire(clasp, clasp.wire_mm)
    if clasp.tip_wire_mm is None or clasp.tip_wire_mm == clasp.wire_mm:
        return plain
    words = plain.words or gettext("%(n)s mm") % {"n": f"{plain.number:g}"}
    tip = gettext("%(n)s mm") % {"n": f"{round(clasp.tip_wire_mm, 2):g}"}
    return Cell(gettext("%(wire)s, tapered to %(tip)s") % {"wire": words, "tip": tip})


def _plain_wire(clasp: Clasp, wire_mm: float) -> Cell:
    said = {"n": f"{round(wire_mm, 2):g}"}
    words = gettext("%(n)s mm") % said
    if clasp.gauge and clasp.gauge_system in ("awg", "swg"):
        said["asked"] = f"{clasp.gauge} {clasp.gauge_system.upper()}"
        words = gettext("%(n)s mm (%(asked)s)") % said
    elif clasp.section == "round":
        return _mm(wire_mm)
    if clasp.section == "half_round":
        words = gettext("%(wire)s, half-round") % {"wire": words}
    return Cell(words)


def _in_order(design: Design) -> list[Clasp]:
    row = teeth_of_arch(design.arch)
    return sorted(design.clasps, key=lambda clasp: row.index(clasp.tooth))


def wires(design: Design, stage: str, kept: Kept) -> Table | None:
    """Each wire with its diameter, free arm, depth, and the side its tip lies at."""
    if not design.clasps:
        return None
    rows = tuple(
        (
            Cell(fdi=clasp.tooth),
            _wire(clasp),
            _mm(clasp.free_arm_mm),
            _mm(clasp.undercut_mm),
            Cell(clasp.tip),
            Cell(ALLOYS[clasp.alloy].name if clasp.alloy in ALLOYS else clasp.alloy),
        )
        for clasp in _in_order(design)
    )
    return Table(
        "wires",
        N_("The wires"),
        (N_("Tooth"), N_("Wire"), N_("Free arm"), N_("Undercut"), N_("Tip"), N_("Alloy")),
        rows,
    )


def _carriers(design: Design, carriers: dict[int, tuple[str, ...]]) -> tuple[tuple[Cell, ...], ...]:
    """A row for each thing that lies on a tooth, with the room that was measured over it."""
    rows: list[tuple[Cell, ...]] = []
    for tooth in teeth_of_arch(design.arch):
        clasp = design.clasp_on(tooth)
        room = clasp.room_mm if clasp is not None else None
        rows += [(Cell(fdi=tooth), Cell(what), _mm(room)) for what in carriers.get(tooth, ())]
    return tuple(rows)


CARRIER_HEADS = (N_("Tooth"), N_("What lies on it"), N_("Room over it"))


def rests(design: Design, stage: str, kept: Kept) -> Table | None:
    """Each wire rest to bend, with the room that it has under the bite."""
    rows = _carriers(design, dict.fromkeys(design.rests, (WIRE_REST,)))
    return Table("rests", N_("The wire rests"), CARRIER_HEADS, rows) if rows else None


def carriers(design: Design, stage: str, kept: Kept) -> Table | None:
    """Each wire rest and acrylic stop: what keeps the piece from sinking, and its room."""
    on: dict[int, tuple[str, ...]] = dict.fromkeys(design.rests, (WIRE_REST,))
    for tooth in design.stops:
        on[tooth] = (*on.get(tooth, ()), ACRYLIC_STOP)
    rows = _carriers(design, on)
    return Table("carriers", N_("Rests and stops"), CARRIER_HEADS, rows) if rows else None


def joints(design: Design, stage: str, kept: Kept) -> Table | None:
    """Each joint: the tooth it lies at and how far it stays from the free arm there.

    Joints that were counted and given no tooth have a row together, so that none is forgotten.
    """
    if not design.joints:
        return None
    rows: list[tuple[Cell, ...]] = []
    for tooth in teeth_of_arch(design.arch):
        if tooth in design.joint_teeth:
            clasp = design.clasp_on(tooth)
            away = clasp.joint_mm if clasp is not None else None
            rows.append((Cell(fdi=tooth), Cell(number=1), _mm(away)))
    elsewhere = design.joints - len(rows)
    if elsewhere > 0:
        rows.append((Cell(N_("nobody has said")), Cell(number=elsewhere), Cell()))
    heads = (N_("Tooth"), N_("Joints"), N_("From the free arm"))
    return Table("joints", N_("The joints"), heads, tuple(rows))


def _line(clasp: Clasp, kept: Kept) -> float | None:
    """Cusp tip to the survey line, as kept at the survey, else as drawn."""
    return kept.get(f"12@survey:{clasp.tooth}", {}).get("line", clasp.line_mm)


def least_height(clasp: Clasp, stage: str) -> float:
    """How far above the survey line the bracing stands at least when this stage ends, in mm."""
    drawn = USUAL_BRACING_MM if clasp.bracing_mm is None else clasp.bracing_mm
    return RESERVE_MM.get(stage, RESERVE_MM["wax"]) + max(0.0, drawn - USUAL_BRACING_MM)


def heights(design: Design, stage: str, kept: Kept) -> Table | None:
    """For each clasp what faces it, and how near to the cusp tip its edge has to come."""
    braced = [clasp for clasp in _in_order(design) if clasp.bracing != "none"]
    if not braced:
        return None
    rows = []
    for clasp in braced:
        line, least = _line(clasp, kept), least_height(clasp, stage)
        edge = None if line is None else max(0.0, line - least)
        rows.append(
            (Cell(fdi=clasp.tooth), Cell(BRACING_WORDS[clasp.bracing]), _mm(least), _mm(edge))
        )
    title = N_("Heights to reach") if stage == "wax" else N_("Must not be ground away")
    heads = (
        N_("Behind"),
        N_("What braces"),
        N_("Above the line, at least"),
        N_("From the cusp tip, at most"),
    )
    return Table("heights", title, heads, tuple(rows))


def pads(design: Design, stage: str, kept: Kept) -> Table | None:
    """How far each pad or tuberosity behind a free end is covered."""
    areas = free_ends(design)
    if not areas:
        return None
    said = dict(design.covered)
    rows = tuple(
        (Cell(area), Cell(COVERAGE_WORDS.get(said.get(area, ""), N_("nobody has said"))))
        for area in areas
    )
    return Table("pads", N_("Kept covered"), (N_("Area"), N_("How far")), rows)


def _to_do(design: Design, face: tuple[int, str]) -> str:
    if face in design.unrelieved:
        return N_("block out, no relief") if face in design.blocked else N_("no relief")
    return N_("block out") if face in design.blocked else N_("relief only")


def undercuts(design: Design, stage: str, kept: Kept) -> Table | None:
    """Each face under acrylic with its step, and whether it is blocked out."""
    steps = design.survey.steps()
    listed = faces(design)
    if design.provisional or not listed:
        return None
    stands = set(standing(design))
    rows = tuple(
        (
            Cell(fdi=tooth),
            Cell(side if tooth in stands else gettext("ridge, %(side)s") % {"side": side}),
            _mm(steps.get((tooth, side))),
            Cell(_to_do(design, (tooth, side))),
        )
        for tooth, side in listed
    )
    return Table(
        "faces",
        N_("Faces under acrylic"),
        (N_("At"), N_("Side"), N_("Undercut"), N_("What to do")),
        rows,
    )


def keep_clear(design: Design, stage: str, kept: Kept) -> Table | None:
    """Where a tip will lie: block-out stays clear of it, for the wire must reach the stone."""
    if not design.clasps:
        return None
    rows = tuple(
        (
            Cell(fdi=clasp.tooth),
            Cell(f"{clasp.tip}, {clasp.face}" if clasp.tip else clasp.face),
            _mm(clasp.undercut_mm),
        )
        for clasp in _in_order(design)
    )
    return Table("tips", N_("Keep clear for the tips"), (N_("Tooth"), N_("Tip"), N_("Depth")), rows)


def bar(design: Design, stage: str, kept: Kept) -> Table | None:
    """The bar: its section, distances, and what holds it while packing."""
    spec = design.strengthener
    if not design.bar or spec is None:
        return None
    section = N_("half-round") if spec.section == "half_round" else N_("round")
    row = (
        Cell(section),
        _mm(spec.size_mm),
        _mm(spec.relief_mm),
        _mm(spec.cover_mm),
        Cell(spec.held),
    )
    heads = (N_("Section"), N_("Size"), N_("Off the cast"), N_("Acrylic all round"), N_("Held by"))
    return Table("bar", N_("The bar"), heads, (row,))


def rooms(design: Design, stage: str, kept: Kept) -> Table | None:
    """What was measured for each denture tooth: between its neighbours, mould, above the ridge."""
    row = teeth_of_arch(design.arch)
    measured = [room for room in design.rooms if room.tooth in design.replaced]
    if not measured:
        return None
    rows = tuple(
        (Cell(fdi=one.tooth), _mm(one.width_mm), _mm(one.mould_mm), _mm(one.height_mm))
        for one in sorted(measured, key=lambda room: row.index(room.tooth))
    )
    heads = (
        N_("Tooth"),
        N_("Between its neighbours"),
        N_("Width of the mould"),
        N_("Above the ridge"),
    )
    return Table("rooms", N_("Room for the denture teeth"), heads, rows)


TablesOf = Callable[[Design, str, Kept], Table | None]

AT: dict[str, tuple[TablesOf, ...]] = {
    "block-out": (undercuts, keep_clear),
    "copy-cast": (undercuts,),
    "clasps": (wires, rests),
    "bar": (bar,),
    "join": (joints, wires, rests, bar),
    "teeth": (rooms,),
    "wax": (heights, carriers, pads),
    "wax-pass": (heights, wires, carriers, pads),
    "pack": (bar,),
    "fit": (undercuts,),
    "finish": (heights, carriers, pads, bar),
    "polish": (heights, carriers, pads),
    "inspect": (heights, wires, carriers, pads),
}
"""What each stage looks at; common practice, no published source."""


def tables(design: Design, stage: str, kept: Kept) -> tuple[Table, ...]:
    """Return the tables of a stage; none where the design has nothing for it.

    Parameters
    ----------
    stage
        Key of the stage.
    kept
        Values that earlier checks kept, by key of the check.
    """
    found = (make(design, stage, kept) for make in AT.get(stage, ()))
    return tuple(with_milk_teeth(table, design) for table in found if table is not None)


def with_milk_teeth(table: Table, design: Design) -> Table:
    """Return a table that names milk teeth, where they stand, by their own numbers."""
    if not design.primary:
        return table
    rows = tuple(
        tuple(
            replace(cell, fdi=design.number_at(cell.fdi)) if cell.fdi is not None else cell
            for cell in row
        )
        for row in table.rows
    )
    return replace(table, rows=rows)
