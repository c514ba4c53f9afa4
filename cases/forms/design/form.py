"""The whole design form: teeth, survey, hold, bar, acrylic, orders, and who passes which rule."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from contextlib import suppress
from dataclasses import replace
from typing import Any, cast

from django import forms
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from cases.domain import order_choices as choices
from cases.domain.clasp import usual_wire
from cases.domain.design import Arch, BlockOutMethod, Clasp, CopyMaterial, Design, RuleConcession
from cases.domain.reasons import BLOCK_OUT_OTHER
from cases.domain.subjects import free_ends
from cases.domain.teeth import from_fdi, is_primary, parse_teeth, place_of, teeth_of_arch
from cases.domain.toothwords import labels
from cases.forms.case_actions import CaseForm, reasons
from cases.forms.case_order import offered
from cases.forms.design import acrylic, clasps, survey, told
from cases.forms.design.entries import MillimetreField, number, parse_faces, say_faces, say_row
from cases.forms.teeth_field import TeethField

GONE = ("replaced", "gaps", "extracted", "out", "dropped")
ON_TEETH = ("clasps", "rests", "stops", "abutments")
ON_REPLACED = ("hollowed",)
FACES = ("blocked", "unrelieved", "more_faces")
"""Entries that name faces."""
MOST_TAPER_DEG = 15
"""Beyond it a block-out guides nothing. Judgement."""
ROWS = (*GONE, *ON_TEETH, *ON_REPLACED, "joint_teeth", "primary")
CONCEDE = "concede:"
"""Begins the name of an entry with the reason why a rule is passed: rule, subject and the mark of
what the rule says follow, so that a reason passes the sentence that stood above it and no other."""


def concede_name(rule: str, subject: str, mark: str) -> str:
    """Return the name of the entry in which the reason for passing a rule is written."""
    return f"{CONCEDE}{rule}:{subject}:{mark}"


class DesignForm(CaseForm):
    """The design, entry by entry; ``plan`` of a valid form is the domain's."""

    tool = forms.CharField(initial="replaced", required=False, max_length=20)
    in_hand = forms.BooleanField(
        label=gettext_lazy("Turned as the cast lies in the hand"), required=False
    )
    replaced = TeethField(label=gettext_lazy("Replaced"), required=False)
    gaps = TeethField(label=gettext_lazy("Missing, not replaced"), required=False)
    extracted = TeethField(label=gettext_lazy("Taken out at delivery and replaced"), required=False)
    out = TeethField(label=gettext_lazy("Taken out, not replaced"), required=False)
    dropped = TeethField(label=gettext_lazy("Left out for want of room"), required=False)
    primary = TeethField(label=gettext_lazy("Milk teeth still there"), required=False)
    clasps = TeethField(label=gettext_lazy("Clasped teeth"), required=False)
    rests = TeethField(label=gettext_lazy("Wire rests"), required=False)
    stops = TeethField(label=gettext_lazy("Acrylic stops"), required=False)
    abutments = TeethField(
        label=gettext_lazy("Abutments with none of these"),
        help_text=gettext_lazy("A third molar counts in the class only where it is one."),
        required=False,
    )
    joint_teeth = TeethField(label=gettext_lazy("Joints at"), required=False)
    hollowed = TeethField(label=gettext_lazy("Denture teeth hollowed over a wire"), required=False)
    bar = forms.ChoiceField(
        label=gettext_lazy("Bar"),
        choices=(("no", gettext_lazy("No bar")), ("yes", gettext_lazy("A bar"))),
        widget=forms.RadioSelect,
    )
    joints = forms.IntegerField(
        label=gettext_lazy("Joints to solder or weld"), min_value=0, max_value=20, required=False
    )
    method = forms.ChoiceField(
        label=gettext_lazy("Block-out"),
        choices=(
            ("none", gettext_lazy("None, relief only")),
            ("plaster", gettext_lazy("Plaster on the cast: no cast will be left to fit to")),
            ("wax-then-copy", gettext_lazy("Wax on the master, then a copy: the master is kept")),
            ("copy-then-plaster", gettext_lazy("A copy, then plaster on it: the master is kept")),
        ),
        widget=forms.RadioSelect,
    )
    method_reason = forms.ChoiceField(
        label=gettext_lazy("Why another block-out than advised"), required=False
    )
    copy_in = forms.ChoiceField(
        label=gettext_lazy("The copy is made in"),
        choices=(("silicone", gettext_lazy("Silicone")), ("gel", gettext_lazy("Gel"))),
        widget=forms.RadioSelect,
        required=False,
    )
    blocked = forms.CharField(
        label=gettext_lazy("Faces blocked out"),
        help_text=gettext_lazy("Tooth and side, such as “35 distal, 44 mesial lingual”."),
        required=False,
        max_length=600,
    )
    taper_deg = MillimetreField(
        label=gettext_lazy("Taper of the block-out, degrees"),
        help_text=gettext_lazy("0, or nothing, is parallel to the path."),
        required=False, min_value=0, max_value=MOST_TAPER_DEG,
    )  # fmt: skip
    unrelieved = forms.CharField(
        label=gettext_lazy("Faces whose gum line is not relieved"),
        help_text=gettext_lazy(
            "Relief is always made; a face named here needs a concession. Such as “44 lingual”."
        ),
        required=False,
        max_length=600,
    )
    more_faces = forms.CharField(
        label=gettext_lazy("Further faces to survey"),
        help_text=gettext_lazy(
            "Tooth and side, such as “43 lingual”; a missing tooth means ridge."
        ),
        required=False,
        max_length=600,
    )
    needs_agreement = forms.BooleanField(
        label=gettext_lazy("The practice agrees to the design first"), required=False
    )
    borders = forms.ChoiceField(label=gettext_lazy("Borders"), widget=forms.RadioSelect)
    polish = forms.ChoiceField(label=gettext_lazy("Polish"), widget=forms.RadioSelect)
    reason = forms.CharField(
        label=gettext_lazy("Why the design changes"), required=False, max_length=200
    )
    asked_by = forms.ChoiceField(
        label=gettext_lazy("Who wished the change"),
        choices=(
            ("lab", gettext_lazy("We, at the bench")),
            ("practice", gettext_lazy("The practice")),
        ),
        widget=forms.RadioSelect,
        required=False,
    )

    def __init__(
        self,
        data: Mapping[str, Any] | None,
        *,
        plan: Design,
        borders: str,
        polish: str,
        notation: str,
    ) -> None:
        self.arch: Arch = plan.arch
        self.notation = notation
        self.before = plan
        super().__init__(data, initial=initial(plan, borders, polish, notation))
        self._choices("borders", offered(choices.BORDERS, silent=False))
        self._choices("polish", offered(choices.POLISH, silent=False))
        self._choices("method_reason", reasons(BLOCK_OUT_OTHER))
        for name in ROWS:
            self.fields[name].notation = notation  # type: ignore[attr-defined]
        self.milk = frozenset(tooth for tooth in self.teeth_in("primary") if tooth % 10 <= 5)
        self.label = labels(notation, self.milk)
        self.outline = self._outline()
        self.clasp_teeth = [clasp.tooth for clasp in self.outline.clasps]
        for tooth in self.clasp_teeth:
            clasps.add_entries(self, tooth, self.label(tooth))
        survey.add_tilt(self)
        self.faces = survey.faces_to_survey(self.outline, self._faces("more_faces"))
        survey.add_faces(self, self.faces, self.label)
        acrylic.add_bar(self)
        acrylic.add_acrylic(self, self.outline, notation)
        told.add_told(self)

    def _choices(self, name: str, offered_ones: list[tuple[str, str]]) -> None:
        self.fields[name].choices = offered_ones  # type: ignore[attr-defined]

    def teeth_in(self, name: str) -> list[int]:
        """Return the teeth of an entry that can be read: a slip beside them must not drop what
        was entered about the others."""
        text = str(self[name].value() or "")
        named: set[int] = set()
        for part in (text, *re.split(r"[,;\s]+", text)):
            with suppress(ValueError):
                named.update(map(place_of, parse_teeth(part, self.notation)))
        return [tooth for tooth in teeth_of_arch(self.arch) if tooth in named]

    def _faces(self, name: str) -> frozenset[tuple[int, str]]:
        row = teeth_of_arch(self.arch)
        with suppress(ValueError):
            found = parse_faces(str(self[name].value() or ""), self.notation)
            places = ((place_of(tooth), side) for tooth, side in found)
            return frozenset(face for face in places if face[0] in row)
        return frozenset()

    def _outline(self) -> Design:
        """Return what decides which entries there are: gaps, clasps, faces already named."""
        replaced = frozenset(self.teeth_in("replaced")) | frozenset(self.teeth_in("extracted"))
        known = {clasp.tooth: clasp for clasp in self.before.clasps}
        return Design(
            arch=self.arch,
            missing=replaced
            | frozenset(self.teeth_in("gaps"))
            | frozenset(self.teeth_in("out"))
            | frozenset(self.teeth_in("dropped")),
            replaced=replaced,
            clasps=tuple(known.get(tooth, Clasp(tooth)) for tooth in self.teeth_in("clasps")),
            rests=frozenset(self.teeth_in("rests")),
            stops=frozenset(self.teeth_in("stops")),
            abutments=frozenset(self.teeth_in("abutments")),
            blocked=self._faces("blocked"),
            survey=self.before.survey,
        )

    @property
    def asked_faces(self) -> list[survey.Face]:
        """The faces that the survey asks for without their being named."""
        return survey.faces_to_survey(self.outline)

    @property
    def clasp_rows(self) -> list[dict[str, Any]]:
        """The entries of each clasp by name, with its label."""
        names = ("wire", "system", "alloy", "shows", *(one[0] for one in clasps.LENGTHS))
        names += tuple(one[0] for one in clasps.CHOICES)
        return [
            {
                "tooth": tooth,
                "label": self.label(tooth),
                "usual": usual_wire(tooth),
                # A clasp that was typed just now has no row on the page yet.
                "there": f"wire_{tooth}" in self.data,
                **{name: self[f"{name}_{tooth}"] for name in names},
            }
            for tooth in self.clasp_teeth
        ]

    @property
    def face_rows(self) -> list[dict[str, Any]]:
        """The two entries of each face that is surveyed."""
        return [
            {
                "tooth": self.label(face[0]),
                "side": face[1],
                "ridge": survey.is_ridge(face, self.outline),
                "step": self[survey.step_name(face)],
                "level": self[survey.level_name(face)],
            }
            for face in self.faces
        ]

    @property
    def cover_rows(self) -> list[forms.BoundField]:
        """The entries of the pads or tuberosities."""
        return [self[acrylic.area_name(area)] for area in free_ends(self.outline)]

    @property
    def room_rows(self) -> list[dict[str, Any]]:
        """The entries of the room for each denture tooth."""
        return [
            {
                "label": from_fdi(tooth, self.notation),
                "gap": self[f"gap_{tooth}"],
                "mould": self[f"mould_{tooth}"],
                "tall": self[f"tall_{tooth}"],
            }
            for tooth in teeth_of_arch(self.arch)
            if tooth in self.outline.replaced
        ]

    @property
    def room_refused(self) -> bool:
        """Whether an entry of the room for the denture teeth is refused, so that it is shown."""
        return any(row[name].errors for row in self.room_rows for name in ("gap", "mould", "tall"))

    @property
    def bar_refused(self) -> bool:
        """Whether an entry of the bar and its plate is refused, so that it is shown."""
        return any(name in self.errors for name in acrylic.BAR_AND_PLATE)

    def _clean_faces(self, name: str) -> frozenset[tuple[int, str]]:
        try:
            faces = parse_faces(self.cleaned_data[name], self.notation)
        except ValueError as error:
            raise forms.ValidationError(str(error)) from error
        row = teeth_of_arch(self.arch)
        for tooth, _side in faces:
            if place_of(tooth) not in row:
                raise forms.ValidationError(self._not_here(tooth))
            if is_primary(tooth) and place_of(tooth) not in self.milk:
                raise forms.ValidationError(self._no_milk_tooth(tooth))
        return frozenset((place_of(tooth), side) for tooth, side in faces)

    def _not_here(self, tooth: int) -> str:
        return _("%(tooth)s is not a tooth of this arch.") % {
            "tooth": from_fdi(tooth, self.notation)
        }

    def _no_milk_tooth(self, tooth: int) -> str:
        return _(
            "%(milk)s is a milk tooth, and none is entered as still there. Enter it there first, "
            "or name %(tooth)s."
        ) % {
            "milk": from_fdi(tooth, self.notation),
            "tooth": from_fdi(place_of(tooth), self.notation),
        }

    def clean_blocked(self) -> frozenset[tuple[int, str]]:
        """Read the faces that are blocked out."""
        return self._clean_faces("blocked")

    def clean_unrelieved(self) -> frozenset[tuple[int, str]]:
        """Read the faces that are not relieved."""
        return self._clean_faces("unrelieved")

    def clean_more_faces(self) -> frozenset[tuple[int, str]]:
        """Read the further faces."""
        return self._clean_faces("more_faces")

    def clean_primary(self) -> list[int]:
        """Read milk teeth by their own number, or by that of the tooth that will follow."""
        return [place_of(tooth) for tooth in self.cleaned_data["primary"]]

    def clean(self) -> dict[str, Any]:
        """Refuse teeth of the other arch and wires that cannot be read, each beside its field."""
        data = super().clean() or {}
        row = teeth_of_arch(self.arch)
        for name in ROWS:
            named = data.get(name) or []
            for tooth in named:
                if place_of(tooth) not in row:
                    self.add_error(name, self._not_here(tooth))
                elif is_primary(tooth) and name not in GONE and place_of(tooth) not in self.milk:
                    self.add_error(name, self._no_milk_tooth(tooth))
            if name in data:
                data[name] = [place_of(tooth) for tooth in named]
        comes = {*(data.get("replaced") or []), *(data.get("extracted") or [])}
        for name in ("gaps", "out"):
            for tooth in comes.intersection(data.get(name) or []):
                said = _("%(tooth)s is entered as replaced and as not replaced. Choose one.")
                self.add_error(name, said % {"tooth": from_fdi(tooth, self.notation)})
        for tooth in {*(data.get("gaps") or [])}.intersection(data.get("out") or []):
            said = _("%(tooth)s is entered as missing already and as taken out. Choose one.")
            self.add_error("out", said % {"tooth": from_fdi(tooth, self.notation)})
        for tooth in data.get("primary") or []:
            if tooth in row and tooth % 10 > 5:
                self.add_error("primary", _("No milk tooth stands at a molar’s place."))
        for tooth in self.clasp_teeth:
            clasps.check_wire(self, tooth)
        acrylic.check_bar(self)
        return data

    def plan(self) -> Design:
        """Return the design of a valid form."""
        data = self.cleaned_data
        replaced = frozenset(data["replaced"]) | frozenset(data["extracted"])
        out = frozenset(data["out"])
        joint_teeth = frozenset(data["joint_teeth"])
        outline = Design(
            arch=self.arch,
            missing=replaced | out | frozenset(data["gaps"]) | frozenset(data["dropped"]),
            replaced=replaced,
            extracted=frozenset(data["extracted"]) | out,
            dropped=frozenset(data["dropped"]),
            primary=frozenset(data["primary"]),
            clasps=tuple(clasps.clasp_of(data, tooth) for tooth in self.clasp_teeth),
            rests=frozenset(data["rests"]),
            stops=frozenset(data["stops"]),
            abutments=frozenset(data["abutments"]),
            hollowed=frozenset(data["hollowed"]),
            bar=data["bar"] == "yes",
            strengthener=acrylic.bar_of(data),
            joints=max(data["joints"] or 0, len(joint_teeth)),
            joint_teeth=joint_teeth,
            blocked=data["blocked"],
            taper_deg=data["taper_deg"],
            unrelieved=data["unrelieved"],
            method=cast(BlockOutMethod, data["method"]),
            method_reason=data["method_reason"],
            needs_agreement=data["needs_agreement"],
            copy_in=cast(CopyMaterial, data["copy_in"] or "silicone"),
            survey=survey.survey_of(data, self.faces),
            relieved=frozenset(data["relieved"]),
            occlusion=frozenset(data["occlusion"]),
            crest_angle_deg=data["crest_angle"],
            on_slope=frozenset(data.get("on_slope", ())),
            plate_height_mm=data["plate_height"],
            plate_thickness_mm=data["plate_thick"],
            rooms=acrylic.rooms_of(data, replaced),
            concessions=self._concessions(),
            told=told.told_of(data),
        )
        return replace(outline, covered=acrylic.covered_of(data, outline))

    def _concessions(self) -> tuple[RuleConcession, ...]:
        """Read who passes which rule: old ones stay, a reason that was emptied takes one away.

        An old one that was given for what the rule does not say any more stays as it is, whatever
        is written below the new sentence; a reason written there is a further one in its place.
        """
        known = {(one.rule, one.subject): one for one in self.before.concessions}
        for name in self.data:
            if not name.startswith(CONCEDE) or name.count(":") < 3:
                continue
            rule, rest = name[len(CONCEDE) :].split(":", 1)
            subject, mark = rest.rsplit(":", 1)
            reason = str(self.data[name]).strip()[:120]
            old = known.get((rule, subject))
            below_it = old is not None and old.covers(mark)
            if not reason:
                if below_it:
                    known.pop((rule, subject))
            elif old is None or not below_it or old.reason != reason:
                known[rule, subject] = RuleConcession(rule, subject, reason, seen=mark)
        return tuple(known.values())


def initial(plan: Design, borders: str, polish: str, notation: str) -> dict[str, Any]:
    """Return a design as the form shows it."""

    def say(places: Iterable[int]) -> str:
        return say_row(map(plan.number_at, places), plan.arch, notation)

    def faces(named: Iterable[tuple[int, str]]) -> str:
        there = ((plan.number_at(place), side) for place, side in named)
        return say_faces(there, plan.arch, notation)

    shown: dict[str, Any] = {
        "tool": "replaced",
        "replaced": say(plan.replaced),
        "gaps": say(plan.missing - plan.replaced - plan.dropped - plan.extracted),
        "extracted": say(plan.extracted & plan.replaced),
        "out": say(plan.extracted - plan.replaced),
        "dropped": say(plan.dropped),
        "primary": say(plan.primary),
        "clasps": say(clasp.tooth for clasp in plan.clasps),
        "rests": say(plan.rests),
        "stops": say(plan.stops),
        "abutments": say(plan.abutments),
        "joint_teeth": say(plan.joint_teeth),
        "hollowed": say(plan.hollowed),
        "bar": "yes" if plan.bar else "no",
        "joints": plan.joints,
        "method": plan.method,
        "method_reason": plan.method_reason,
        "copy_in": plan.copy_in,
        "blocked": faces(plan.blocked),
        "taper_deg": number(plan.taper_deg),
        "unrelieved": faces(plan.unrelieved),
        "needs_agreement": plan.needs_agreement,
        "borders": borders,
        "polish": polish,
        "asked_by": "lab",
    }
    shown |= survey.initial_of(plan.survey) | acrylic.initial_of(plan) | told.initial_of(plan)
    for clasp in plan.clasps:
        shown |= clasps.initial_of(clasp)
    return shown
