"""The parts of a design as rows and tables, read-only, in the order in which it is drawn."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace

from django.utils.translation import gettext as _
from django.utils.translation import gettext_noop

from cases.domain.alloys import ALLOYS
from cases.domain.bench_tables import BRACING_WORDS, Cell, Table, with_milk_teeth
from cases.domain.chairside import in_arch_order
from cases.domain.design import COPY_METHODS, Clasp, Design
from cases.domain.plan_checks import COVERAGE_WORDS
from cases.forms.design.acrylic import AREAS, OCCLUSIONS, RELIEFS, SLOPES
from cases.forms.design.clasps import UNDERCUT_STEPS
from cases.forms.design.entries import SIDES, along, say_faces, say_row
from cases.forms.design.survey import TILTS
from cases.views.case.history_words import reason_words
from cases.views.case.order_words import Row as Line

METHOD_WORDS = {
    "none": gettext_noop("none, relief only"),
    "plaster": gettext_noop("plaster on the cast"),
    "wax-then-copy": gettext_noop("wax on the master, then a copy"),
    "copy-then-plaster": gettext_noop("a copy, then plaster on it"),
}
ADVISED_WORDS = {
    "none": gettext_noop("none, relief only"),
    "plaster": gettext_noop("plaster on the cast"),
    "copy": gettext_noop("a copy, so that the master is kept"),
}


@dataclass(frozen=True)
class Section:
    """A part of a design: lines, and tables where there are several of a kind."""

    title: str
    lines: tuple[Line, ...] = ()
    tables: tuple[Table, ...] = ()


def sections(plan: Design, notation: str) -> list[Section]:
    """Return the parts of a design that say anything, in the order in which it is drawn."""
    parts = (
        _teeth(plan, notation),
        _survey(plan, notation),
        _hold(plan),
        _bar(plan),
        _block_out(plan, notation),
        _acrylic(plan, notation),
    )
    return [
        replace(part, tables=tuple(with_milk_teeth(table, plan) for table in part.tables))
        for part in parts
        if part.lines or part.tables
    ]


def _kept(*lines: tuple[str, str]) -> tuple[Line, ...]:
    return tuple(Line(label, words) for label, words in lines if words)


def _mm(value: float | None) -> Cell:
    return Cell() if value is None else Cell(number=value, unit="mm")


def _step(value: float | None) -> Cell:
    """Say an undercut as the gauge shows it."""
    return Cell() if value is None else Cell(str(dict(UNDERCUT_STEPS)[f"{value:g}"]))


def _length(value: float | None) -> str:
    return "" if value is None else _("%(n)s mm") % {"n": f"{value:g}"}


def _teeth(plan: Design, notation: str) -> Section:
    def row(teeth: Iterable[int]) -> str:
        return say_row(map(plan.number_at, teeth), plan.arch, notation)

    joints = row(plan.joint_teeth)
    if plan.joints:
        joints = f"{plan.joints} ({joints})" if joints else str(plan.joints)
    return Section(
        _("Teeth"),
        _kept(
            (_("Replaced"), row(plan.replaced)),
            (_("Missing, not replaced"), row(plan.missing - plan.replaced - plan.extracted)),
            (_("Taken out at delivery"), row(plan.extracted & plan.replaced)),
            (_("Taken out, not replaced"), row(plan.extracted - plan.replaced)),
            (_("Left out for want of room"), row(plan.dropped)),
            (_("Milk teeth still there"), row(plan.primary)),
            (_("Wire rests"), row(plan.rests)),
            (_("Acrylic stops"), row(plan.stops)),
            (_("Abutments besides"), row(plan.abutments)),
            (_("Joints"), joints),
            (_("Hollowed over a wire"), row(plan.hollowed)),
            (_("Agreement"), _("The practice agrees first") if plan.needs_agreement else ""),
        ),
    )


def _survey(plan: Design, notation: str) -> Section:
    survey = plan.survey
    tilt = ""
    if survey.tilt_deg is not None:
        tilt = _("%(n)s°, %(way)s") % {
            "n": f"{survey.tilt_deg:g}",
            "way": str(dict(TILTS)[survey.tilt_to]).lower(),
        }
    found = {(one.tooth, str(one.side)): one for one in survey.undercuts}
    rows = tuple(
        (
            Cell(fdi=tooth),
            Cell(
                _("ridge, %(side)s") % {"side": _(SIDES[side])}
                if tooth in plan.missing
                else _(SIDES[side])
            ),
            _step(found[tooth, side].step_mm),
            _step(found[tooth, side].level_mm),
        )
        for tooth, side in along(found, plan.arch)
    )
    heads = (
        gettext_noop("At"), gettext_noop("Side"), gettext_noop("At the tilt"),
        gettext_noop("Cast level"),
    )  # fmt: skip
    table = Table("survey", gettext_noop("Undercuts found"), heads, rows)
    return Section(
        _("Survey"),
        _kept(
            (_("Tilt"), tilt),
            (_("Three marks"), _("on the cast") if survey.marked else ""),
        ),
        (table,) if rows else (),
    )


def _wire(clasp: Clasp) -> Cell:
    if clasp.wire_mm is None:
        asked = _("%(gauge)s, by which table is not said") % {"gauge": clasp.gauge}
        return Cell(asked) if clasp.gauge else Cell()
    words = _length(clasp.wire_mm)
    if clasp.gauge and clasp.gauge_system in {"awg", "swg"}:
        asked = f"{clasp.gauge} {clasp.gauge_system.upper()}"
        words = _("%(n)s mm (%(asked)s)") % {"n": f"{clasp.wire_mm:g}", "asked": asked}
    elif clasp.tip_wire_mm is None:
        return _mm(clasp.wire_mm)
    if clasp.tip_wire_mm is None:
        return Cell(words)
    tip = _length(clasp.tip_wire_mm)
    return Cell(_("%(wire)s, tapered to %(tip)s") % {"wire": words, "tip": tip})


def _alloy(clasp: Clasp) -> Cell:
    known = ALLOYS.get(clasp.alloy)
    return Cell(known.name if known else clasp.alloy)


def _meets(clasp: Clasp) -> str:
    if clasp.braces_first is None:
        return ""
    return _("Before the tip, or with it") if clasp.braces_first else _("After the tip")


def _hold(plan: Design) -> Section:
    if not plan.clasps:
        return Section(_("Hold"))
    clasps = in_arch_order(plan)
    wires = Table(
        "wires",
        gettext_noop("The wires"),
        (
            gettext_noop("Tooth"), gettext_noop("Wire"), gettext_noop("Free arm"),
            gettext_noop("Undercut"), gettext_noop("Tip"), gettext_noop("Alloy"),
        ),
        tuple(
            (
                Cell(fdi=one.tooth), _wire(one), _mm(one.free_arm_mm), _mm(one.undercut_mm),
                Cell(one.tip), _alloy(one),
            )
            for one in clasps
        ),
    )  # fmt: skip
    bracing = Table(
        "bracing",
        gettext_noop("Bracing"),
        (
            gettext_noop("Behind"), gettext_noop("What braces"), gettext_noop("Above its line"),
            gettext_noop("Cusp tip to that line"), gettext_noop("Meets the tooth"),
        ),
        tuple(
            (
                Cell(fdi=one.tooth), Cell(BRACING_WORDS[one.bracing]), _mm(one.bracing_mm),
                _mm(one.line_mm), Cell(_meets(one)),
            )
            for one in clasps
        ),
    )  # fmt: skip
    return Section(_("Hold"), tables=(wires, bracing))


def _bar(plan: Design) -> Section:
    bar = plan.strengthener
    reason = bar.reason if bar else ""
    if not plan.bar:
        return Section(_("Strengthener"), _kept((_("Bar"), _("None")), (_("Why none"), reason)))
    if bar is None:
        return Section(_("Strengthener"), _kept((_("Bar"), _("Yes"))))
    section = _("half-round") if bar.section == "half_round" else _("round")
    return Section(
        _("Strengthener"),
        _kept(
            (_("Bar"), ", ".join(part for part in (section, _length(bar.size_mm)) if part)),
            (_("Why"), reason),
            (_("Off the cast"), _length(bar.relief_mm)),
            (_("Acrylic all round"), _length(bar.cover_mm)),
            (_("Held while packing by"), bar.held),
            (_("Plate, height"), _length(plan.plate_height_mm)),
            (_("Plate, thickness"), _length(plan.plate_thickness_mm)),
            (
                _("Grinding"),
                _("It lies where the dentist may grind") if bar.in_grinding else "",
            ),
        ),
    )


def _faces(plan: Design, named: Iterable[tuple[int, str]], notation: str) -> str:
    there = ((plan.number_at(tooth), side) for tooth, side in named)
    return say_faces(there, plan.arch, notation)


def _block_out(plan: Design, notation: str) -> Section:
    if plan.provisional:
        return Section(_("Block-out"))
    method = _(METHOD_WORDS[plan.method])
    if plan.method in COPY_METHODS:
        method = f"{method} ({_(plan.copy_in)})"
    return Section(
        _("Block-out"),
        _kept(
            (_("Advised"), _(ADVISED_WORDS[plan.advised]) if plan.advised else ""),
            (_("Decided"), method),
            (
                _("Why another than advised"),
                reason_words(plan.method_reason) if plan.method_reason else "",
            ),
            (_("Blocked-out faces"), _faces(plan, plan.blocked, notation)),
            (_("Taper"), f"{plan.taper_deg:g}°" if plan.taper_deg else ""),
            (_("Gum line not relieved"), _faces(plan, plan.unrelieved, notation)),
        ),
    )


def _acrylic(plan: Design, notation: str) -> Section:
    relief, bite = dict(RELIEFS), dict(OCCLUSIONS)
    covered = [
        Line(_(AREAS[area]).capitalize(), _(COVERAGE_WORDS[how]))
        for area, how in plan.covered
        if how
    ]
    rooms = tuple(
        (Cell(fdi=one.tooth), _mm(one.width_mm), _mm(one.mould_mm), _mm(one.height_mm))
        for one in plan.rooms
    )
    heads = (
        gettext_noop("Tooth"), gettext_noop("Between its neighbours"),
        gettext_noop("Width of the mould"), gettext_noop("Above the ridge"),
    )  # fmt: skip
    table = Table("rooms", gettext_noop("Room for the denture teeth"), heads, rooms)
    crest = plan.crest_angle_deg
    lines = _kept(
        (
            _("Relieved"),
            ", ".join(str(words) for key, words in relief.items() if key in plan.relieved),
        ),
        (_("Bite"), ", ".join(str(words) for key, words in bite.items() if key in plan.occlusion)),
        (_("Ridge to bite plane"), "" if crest is None else f"{crest:g}°"),
        (
            _("Last tooth where the ridge climbs"),
            ", ".join(str(words) for side, words in SLOPES if side in plan.on_slope),
        ),
    )
    return Section(_("Acrylic, teeth and bite"), (*covered, *lines), (table,) if rooms else ())
