"""What papers say of a case, gathered from its rows once and drawn by each paper in its own way."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from datetime import date, datetime, time
from typing import cast
from zoneinfo import ZoneInfo

from django.utils.formats import date_format
from django.utils.translation import gettext as _
from django.utils.translation import gettext_noop

from cases.domain import cautions, reasons
from cases.domain.archform import ArchInput
from cases.domain.chairside import Part, chairside, in_arch_order
from cases.domain.design import Arch, Design, WorkOrder
from cases.domain.order_choices import (
    ALLERGIES,
    BITE,
    BORDERS,
    EXTRACTION_DEPTHS,
    KINDS,
    MOULD_HOW,
    POLISH,
    SHADE_HOW,
    Choices,
)
from cases.domain.order_form import OrderForm
from cases.domain.rule_spec import say
from cases.domain.teeth import from_fdi, teeth_of_arch
from cases.models import Case, Concession, Lab

BLOCK_OUT_WORDS = {
    "none": gettext_noop("relief only"),
    "plaster": gettext_noop("plaster"),
    "wax-then-copy": gettext_noop("wax, then a copy"),
    "copy-then-plaster": gettext_noop("a copy, then plaster"),
}


@dataclass(frozen=True)
class House:
    """The lab as papers name it, and how it tells days and teeth."""

    name: str
    address: str
    zone: ZoneInfo
    notation: str
    paper: str

    @classmethod
    def of(cls, lab: Lab | None) -> House:
        """Return the house of a lab's row; a lab that is not set up prints plainly."""
        if lab is None:
            return cls("labflow", "", ZoneInfo("UTC"), "fdi", "a5")
        return cls(lab.name, lab.address, ZoneInfo(lab.zone), lab.notation, lab.paper)

    def tooth(self, fdi: int) -> str:
        """Write a tooth in the lab's notation."""
        return from_fdi(fdi, self.notation)

    def teeth_of(self, design: Design) -> Callable[[int], str]:
        """Return what writes the teeth of a design, milk teeth that stand by their own numbers."""
        return lambda tooth: self.tooth(design.number_at(tooth))

    def day(self, day: date | datetime | None) -> str:
        """Write a day as people say it; empty for None."""
        if day is None:
            return ""
        if isinstance(day, datetime):
            day = day.astimezone(self.zone).date()
        return date_format(day, "D j N Y")

    def instant(self, at: datetime | None) -> str:
        """Write an instant by the clock on the lab's wall; empty for None."""
        if at is None:
            return ""
        here = at.astimezone(self.zone)
        return f"{date_format(here.date(), 'D j N Y')}, {here:%H:%M}"


@dataclass(frozen=True)
class Tick:
    """A stage on the ticket. ``state``: ``open``, ``done`` or ``out`` (left out)."""

    name: str
    state: str


@dataclass(frozen=True)
class CaseFacts:
    """A case as its papers tell it. Texts are ready to print; empty ones have nothing to say."""

    number: str
    arch: ArchInput
    piece: str
    rush: bool
    practice: str
    practice_code: str
    dentist: str
    patient_ref: str
    teeth: str
    extracted: str
    clasps: str
    block_out: str
    design: str
    design_short: str
    draft: bool
    shade: str
    mould: str
    bite: str
    materials: str
    borders: str
    polish: str
    allergies: str
    contaminated: bool
    description: str
    appointment: str
    leaves: str
    leaves_short: str
    twin: str
    remake_of: str
    received: str
    stages: tuple[Tick, ...]
    cautions: tuple[str, ...]
    chairside: tuple[Part, ...]
    concessions: tuple[str, ...]


def _words(choices: Choices, value: str) -> str:
    return dict(choices).get(value, "")


def _chosen(how: str, choices: Choices, named: str, guide: str = "") -> str:
    """Return what was named, else how it is chosen."""
    if how == "named" and named:
        return f"{named} ({guide})" if guide else named
    said = _(_words(choices, how)) if how else _("not said")
    return f"{said} ({named})" if named else said


def _runs_of(numbers: frozenset[int], arch: str, say: Callable[[int], str]) -> str:
    """Write teeth, neighbours as a span: "47-46, 36-37"."""
    row = teeth_of_arch(arch)
    spans: list[list[int]] = []
    for place, tooth in enumerate(row):
        if tooth not in numbers:
            continue
        if spans and row.index(spans[-1][-1]) == place - 1:
            spans[-1].append(tooth)
        else:
            spans.append([tooth])
    said = [say(span[0]) if len(span) == 1 else f"{say(span[0])}–{say(span[-1])}" for span in spans]
    return ", ".join(said)


def _appointment(house: House, day: date | None, at: time | None) -> str:
    if day is None:
        return _("not said")
    return f"{house.day(day)}, {at:%H:%M}" if at else house.day(day)


def _clasps(design: Design, house: House) -> str:
    tooth = house.teeth_of(design)
    said = [
        f"{tooth(clasp.tooth)} ({clasp.wire_mm:g} mm)" if clasp.wire_mm else tooth(clasp.tooth)
        for clasp in in_arch_order(design)
    ]
    return ", ".join(said)


def _block_out(design: Design, house: House) -> str:
    if design.provisional:
        return _("not decided")
    how = _(BLOCK_OUT_WORDS[design.method])
    say_tooth = house.teeth_of(design)
    faces = [f"{say_tooth(tooth)} {side}" for tooth, side in sorted(design.blocked)]
    return f"{how}: {', '.join(faces)}" if faces else how


def _version(case: Case, design: Design) -> str:
    """Say which version of the design the paper is made from; empty where there is none."""
    if case.design is None:
        return ""
    number = {"n": case.design.version}
    if design.provisional:
        return _("version %(n)s, expected and not drawn") % number
    return (_("version %(n)s, a draft") if design.draft else _("version %(n)s")) % number


def _version_short(case: Case, design: Design) -> str:
    """Say the same in two words, for the label."""
    if case.design is None:
        return ""
    number = {"n": case.design.version}
    if design.provisional:
        return _("Expected %(n)s") % number
    return (_("Draft %(n)s") if design.draft else _("Design %(n)s")) % number


def _extracted(order: OrderForm, design: Design, house: House) -> str:
    depths = {entry.tooth: entry.depth for entry in order.extractions}
    label, said = house.teeth_of(design), []
    for tooth in sorted(design.extracted):
        depth = _words(EXTRACTION_DEPTHS, depths.get(tooth, ""))
        said.append(f"{label(tooth)} ({_(depth).lower()})" if depth else label(tooth))
    return ", ".join(said)


def _ticks(case: Case) -> tuple[Tick, ...]:
    states = {"done": "done", "skipped": "out"}
    return tuple(
        Tick(stage.name, states.get(stage.state, "open"))
        for stage in case.stages.all()
        if stage.state != "dropped"
    )


def _cautions(case: Case) -> tuple[str, ...]:
    """Return the hazards of the stages that this case has, each once, in bench order."""
    keys = [stage.key for stage in case.stages.all() if stage.state != "dropped"]
    found = {hazard.title: None for key in keys for hazard in cautions.for_stage(key)}
    return tuple(found)


def _passed_in(design: Design, house: House) -> list[str]:
    """Return what rules said of the design when the lab passed them, without names and reasons."""
    return [
        _("%(what)s (Passed in the design.)")
        % {"what": say(one.words, dict(one.facts), house.teeth_of(design))}
        for one in design.concessions
        if one.words
    ]


def _concessions(case: Case, design: Design, house: House) -> tuple[str, ...]:
    """Return what was accepted as it is, without names; these are read at the practice."""
    rows = Concession.objects.filter(item__case=case).select_related("item").order_by("pk")
    said = _passed_in(design, house)
    for row in rows:
        try:
            why = _(reasons.CONCESSION.get(row.reason).words)
        except ValueError:
            why = row.reason
        said.append(f"{row.sentence or row.item.spec.get('words', '')} ({why})")
    return tuple(said)


def design_of(case: Case) -> Design:
    """Return the design of a case as the domain reads it; an empty one before there is any."""
    if case.design is not None:
        return Design.from_json(case.design.data)
    return Design(cast(Arch, case.arch), provisional=True)


def arch_of(case: Case) -> ArchInput:
    """Return what is drawn of a case."""
    return ArchInput.from_design(design_of(case))


def case_facts(case: Case, house: House) -> CaseFacts:
    """Gather what papers say of ``case``.

    Parameters
    ----------
    case
        With ``practice``, ``prescription__dentist``, ``design``, ``twin`` and ``stages`` at hand
        (else they are fetched here).
    house
        The lab as it prints.
    """
    order = OrderForm.from_json(case.order)
    work = WorkOrder.from_json(case.work_order)
    design = design_of(case)
    dentist = case.prescription.dentist
    allergies = [_(_words(ALLERGIES, key)) for key in order.allergies if key != "none-known"]
    return CaseFacts(
        number=case.number,
        arch=ArchInput.from_design(design),
        piece=_piece(case),
        rush=case.rush,
        practice=case.practice.name,
        practice_code=case.practice.code,
        dentist=dentist.name if dentist else _("no dentist named"),
        patient_ref=case.patient_ref,
        teeth=_runs_of(design.replaced, design.arch, house.tooth) or _("none"),
        extracted=_extracted(order, design, house),
        clasps=_clasps(design, house) or _("none"),
        block_out=_block_out(design, house),
        design=_version(case, design),
        design_short=_version_short(case, design),
        draft=design.draft,
        shade=_chosen(order.shade_how, SHADE_HOW, order.shade, order.shade_guide),
        mould=_chosen(order.mould_how, MOULD_HOW, order.mould),
        bite=_(_words(BITE, work.bite)),
        materials=order.materials,
        borders=_(_words(BORDERS, work.borders)),
        polish=_(_words(POLISH, work.polish)),
        allergies=", ".join([*allergies, order.allergy_words.strip()] if allergies else []),
        contaminated=case.contaminated,
        description=order.description,
        appointment=_appointment(house, case.appointment_on, case.appointment_at),
        leaves=house.instant(case.leaves_at) or house.day(case.promised_on) or _("not promised"),
        leaves_short=house.day(case.leaves_at or case.promised_on),
        twin=case.twin.number if case.twin else "",
        remake_of=case.remake_of.number if case.remake_of else "",
        received=house.day(case.prescription.received_at),
        stages=_ticks(case),
        cautions=_cautions(case),
        chairside=chairside(design, work, say=house.teeth_of(design)),
        concessions=_concessions(case, design, house),
    )


def _piece(case: Case) -> str:
    arch = _("upper") if case.arch == "upper" else _("lower")
    kind = _(_words(KINDS, case.kind)) or case.kind
    return _("%(kind)s, %(arch)s") % {"kind": kind, "arch": arch}
