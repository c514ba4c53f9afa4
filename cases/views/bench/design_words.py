"""The part of the design and of the orders that matters at a stage, in plain lines."""

from __future__ import annotations

from collections.abc import Callable

from django.utils.translation import gettext as _
from django.utils.translation import gettext_noop

from cases.domain import order_choices, teeth
from cases.domain.design import Design
from cases.forms.design.acrylic import OCCLUSIONS, RELIEFS
from cases.forms.design.survey import TILTS
from cases.models import Case

METHOD_WORDS: dict[str, str] = {
    "none": gettext_noop("Relief only, nothing blocked out."),
    "plaster": gettext_noop(
        "Block out in plaster on the cast that goes into the flask. No cast will be left to fit to."
    ),
    "wax-then-copy": gettext_noop("Block out in wax on the master, then make the copy."),
    "copy-then-plaster": gettext_noop("Make the copy first, then block out in plaster on it."),
}

ALL_TILT = frozenset({"block-out", "clasps"})
ALL_RELIEF = frozenset({"block-out", "copy-cast", "fit", "finish"})
ALL_BITE = frozenset({"teeth", "try-in", "bite"})
ALL_WIRE = frozenset({"survey", "block-out", "wax", "fit"})
ALL_TEETH = frozenset({"teeth", "try-in", "wax", "wax-pass", "inspect"})
ALL_FACES = frozenset({"survey", "block-out", "copy-mould", "fit"})
ALL_BAR = frozenset({"bar", "join", "wax", "wax-pass", "pack", "finish", "inspect"})
ALL_ORDERS = frozenset({"wax", "wax-pass", "finish", "polish", "inspect", "pack-out"})
ALL_CUTS = frozenset({"cast-prep", "teeth", "inspect"})
"""Stages at which a part of the design is looked at; common practice, no published source."""


class Words:
    """Lines about one case in the reader's tooth notation."""

    def __init__(self, case: Case, design: Design | None, notation: str) -> None:
        self.case = case
        self.design = design
        self.notation = notation

    def tooth(self, fdi: int) -> str:
        """Write one tooth."""
        number = self.design.number_at(fdi) if self.design is not None else fdi
        return teeth.from_fdi(number, self.notation)

    def teeth(self, numbers: frozenset[int]) -> str:
        """List teeth from the patient's right to the left."""
        row = teeth.teeth_of_arch(self.case.arch)
        return ", ".join(self.tooth(fdi) for fdi in row if fdi in numbers)

    def at(self, key: str) -> list[str]:
        """Return the lines that matter at stage ``key``."""
        lines: list[str] = []
        if self.design is not None:
            parts: tuple[tuple[frozenset[str], Callable[[Design], list[str]]], ...] = (
                (ALL_TILT, self._tilt),
                (ALL_FACES, self._block_out),
                (ALL_RELIEF, self._relief),
                (ALL_WIRE, self._wire),
                (ALL_BAR, self._bar),
                (ALL_TEETH, self._teeth),
                (ALL_BITE, self._bite),
                (ALL_CUTS, self._cuts),
            )
            for stages, say in parts:
                if key in stages:
                    lines += say(self.design)
        if key in ALL_ORDERS:
            lines.append(self._orders())
        return lines

    def _block_out(self, design: Design) -> list[str]:
        if design.provisional:
            return []
        faces = ", ".join(f"{self.tooth(fdi)} {_(side)}" for fdi, side in sorted(design.blocked))
        lines = [_(METHOD_WORDS[design.method])]
        if faces:
            lines.append(_("Faces: %(faces)s.") % {"faces": faces})
        if design.taper_deg:
            lines.append(_("With a taper of %(n)s°, on purpose.") % {"n": f"{design.taper_deg:g}"})
        return lines

    def _tilt(self, design: Design) -> list[str]:
        survey = design.survey
        if survey.tilt_deg is None:
            return []
        if not survey.tilt_deg:
            way = _("level")
        else:
            lowered = str(dict(TILTS)[survey.tilt_to]).lower()
            way = _("%(n)s°, %(way)s") % {"n": f"{survey.tilt_deg:g}", "way": lowered}
        if survey.marked:
            return [_("The cast stands as surveyed: %(way)s, by its three marks.") % {"way": way}]
        return [_("The cast stands as surveyed: %(way)s.") % {"way": way}]

    def _relief(self, design: Design) -> list[str]:
        areas = ", ".join(str(words).lower() for key, words in RELIEFS if key in design.relieved)
        if not areas:
            return []
        return [_("Relieved besides the gum lines: %(areas)s.") % {"areas": areas}]

    def _bite(self, design: Design) -> list[str]:
        notes = ", ".join(
            str(words).lower() for key, words in OCCLUSIONS if key in design.occlusion
        )
        return [_("The bite: %(notes)s.") % {"notes": notes}] if notes else []

    def _wire(self, design: Design) -> list[str]:
        """Say each kind of clasp once, with the teeth it lies on."""
        alike: dict[str, set[int]] = {}
        for clasp in design.clasps:
            parts = [
                _(words) % {"n": f"{value:g}"}
                for words, value in (
                    (gettext_noop("wire %(n)s mm"), clasp.wire_mm),
                    (gettext_noop("undercut %(n)s mm"), clasp.undercut_mm),
                    (gettext_noop("free arm %(n)s mm"), clasp.free_arm_mm),
                )
                if value
            ]
            alike.setdefault(", ".join(parts) or _("not measured yet"), set()).add(clasp.tooth)
        lines = [
            _("Clasp on %(teeth)s: %(said)s.")
            % {"teeth": self.teeth(frozenset(numbers)), "said": said}
            for said, numbers in alike.items()
        ]
        if design.rests:
            lines.append(_("Wire rests on %(teeth)s.") % {"teeth": self.teeth(design.rests)})
        return lines

    def _bar(self, design: Design) -> list[str]:
        return [_("A bar lies inside the acrylic.")] if design.bar else []

    def _teeth(self, design: Design) -> list[str]:
        if not design.replaced:
            return []
        order = self.case.order
        right = sum(map(teeth.is_right, design.replaced))
        said = [
            _("Replaced: %(teeth)s (%(right)s on the right, %(left)s on the left).")
            % {
                "teeth": self.teeth(design.replaced),
                "right": right,
                "left": len(design.replaced) - right,
            },
            self._said(_("Left out for want of room: %(teeth)s."), design.dropped),
            self._said(_("Hollowed clear of the wire: %(teeth)s."), design.hollowed),
            _chosen(_("Shade"), order, "shade", order_choices.SHADE_HOW),
            _chosen(_("Mould"), order, "mould", order_choices.MOULD_HOW),
        ]
        return [" ".join(part for part in said if part)]

    def _said(self, words: str, numbers: frozenset[int]) -> str:
        return words % {"teeth": self.teeth(numbers)} if numbers else ""

    def _cuts(self, design: Design) -> list[str]:
        """Say which teeth come out at delivery, each with the depth of the written order."""
        if not design.extracted:
            return []
        words = dict(order_choices.EXTRACTION_DEPTHS)
        depths = {
            one["tooth"]: _(words[one["depth"]])
            for one in self.case.order.get("extractions", ())
            if one.get("depth") in words
        }
        cuts = ", ".join(
            _("%(tooth)s (%(depth)s)") % {"tooth": self.tooth(fdi), "depth": depths[fdi]}
            if fdi in depths
            else self.tooth(fdi)
            for fdi in teeth.teeth_of_arch(self.case.arch)
            if fdi in design.extracted
        )
        return [_("Still standing, extracted at delivery: %(teeth)s.") % {"teeth": cuts}]

    def _orders(self) -> str:
        work = self.case.work_order
        said = {
            "borders": _in_sentence(order_choices.BORDERS, work.get("borders", "")),
            "polish": _in_sentence(order_choices.POLISH, work.get("polish", "")),
        }
        return _("Borders: %(borders)s. Polish: %(polish)s.") % said


def _in_sentence(choices: order_choices.Choices, value: str) -> str:
    """Return the words of a choice as they stand inside a sentence."""
    for known, words in choices:
        if known == value:
            said = _(words)
            return said[:1].lower() + said[1:]
    return _("not said")


def _chosen(what: str, order: dict[str, str], name: str, how: order_choices.Choices) -> str:
    """Return a shade or mould as ordered, or nothing where nothing was said."""
    value = order.get(name, "")
    if value:
        guide = order.get(f"{name}_guide", "")
        said = f"{value} ({guide})" if guide else value
    elif order.get(f"{name}_how"):
        said = _in_sentence(how, order[f"{name}_how"])
    else:
        return ""
    return _("%(what)s: %(said)s.") % {"what": what, "said": said}
