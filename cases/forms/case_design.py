"""The small design as entered at the surveyor: in the lab's notation, or by touching teeth."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Mapping
from contextlib import suppress
from typing import Any, cast

from django import forms
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy, gettext_noop

from cases.domain import order_choices as choices
from cases.domain.design import Arch, BlockOutMethod, Clasp, CopyMaterial, Design
from cases.domain.teeth import from_fdi, parse_teeth, teeth_of_arch, to_fdi
from cases.forms.case_actions import CaseForm
from cases.forms.case_order import TeethField, offered

SIDES: dict[str, str] = {
    "mesial": gettext_noop("mesial"),
    "distal": gettext_noop("distal"),
    "buccal": gettext_noop("buccal"),
    "lingual": gettext_noop("lingual"),
}
OTHER_SIDE_WORDS = {"palatal": "lingual", "labial": "buccal", "facial": "buccal"}

UNDERCUT_STEPS = (
    ("", gettext_lazy("not measured")),
    ("0.25", gettext_lazy("up to 0.25 mm")),
    ("0.5", gettext_lazy("up to 0.50 mm")),
    ("0.75", gettext_lazy("up to 0.75 mm")),
)
"""Steps of the undercut gauge in mm. Common practice, no published source."""

WIRE_START_MM = "0.9"
"""Where the stepper of a wire begins: a premolar's usual wire. Common practice, no published
source."""
FREE_ARM_START_MM = "10"
"""Where the stepper of a free arm begins. Judgement."""

TOOLS: tuple[tuple[str, str], ...] = (
    ("replaced", gettext_noop("Replaced")),
    ("gaps", gettext_noop("Missing, not replaced")),
    ("extracted", gettext_noop("Taken out at delivery")),
    ("clasps", gettext_noop("Clasp")),
    ("rests", gettext_noop("Wire rest")),
    ("mesial", gettext_noop("Block out mesial")),
    ("distal", gettext_noop("Block out distal")),
    ("buccal", gettext_noop("Block out cheek side")),
    ("lingual", gettext_noop("Block out tongue side")),
)
"""What a touch on a tooth does: chosen first, then teeth are touched."""

GONE = ("replaced", "gaps", "extracted")
ON_TEETH = ("clasps", "rests")


class MillimetreField(forms.FloatField):
    """A length in mm; a decimal comma is understood."""

    def to_python(self, value: Any) -> float | None:  # type: ignore[override]
        """Read the number."""
        return super().to_python(str(value).replace(",", ".") if value is not None else value)


def parse_faces(text: str, notation: str) -> frozenset[tuple[int, str]]:
    """Read blocked-out faces: ``"35 distal, 44 mesial lingual"``.

    Raises
    ------
    ValueError
        A part names no tooth or no side; the sentence names it.
    """
    words = {said: side for side, said in SIDES.items()} | OTHER_SIDE_WORDS
    words |= {_(said): side for side, said in SIDES.items()}
    found: set[tuple[int, str]] = set()
    for part in filter(None, (part.strip() for part in re.split(r"[,;]", text))):
        label, *sides = part.split()
        tooth = to_fdi(label, notation)
        if not sides:
            raise ValueError(_("Say which side of %(tooth)s is blocked out.") % {"tooth": label})
        for side in sides:
            if side.lower() not in words:
                raise ValueError(
                    _("“%(side)s” is no side of a tooth. Use mesial, distal, buccal or lingual.")
                    % {"side": side}
                )
            found.add((tooth, words[side.lower()]))
    return frozenset(found)


def say_faces(faces: Iterable[tuple[int, str]], arch: str, notation: str) -> str:
    """Write blocked-out faces as people enter them, along the arch."""
    row = teeth_of_arch(arch)
    order = list(SIDES)
    sides: dict[int, list[str]] = {}
    for tooth, side in sorted(faces, key=lambda face: (row.index(face[0]), order.index(face[1]))):
        sides.setdefault(tooth, []).append(_(SIDES[side]))
    return ", ".join(
        f"{from_fdi(tooth, notation)} {' '.join(said)}" for tooth, said in sides.items()
    )


def say_row(teeth: Iterable[int], arch: str, notation: str) -> str:
    """Write teeth along the arch in the lab's notation."""
    wanted = set(teeth)
    return ", ".join(from_fdi(t, notation) for t in teeth_of_arch(arch) if t in wanted)


class DesignForm(CaseForm):
    """The design, entry by entry; ``plan`` of a valid form is the domain's."""

    tool = forms.ChoiceField(
        choices=[(key, key) for key, _words in TOOLS], initial="replaced", required=False
    )
    in_hand = forms.BooleanField(
        label=gettext_lazy("Turned as the cast lies in the hand"), required=False
    )
    replaced = TeethField(label=gettext_lazy("Replaced"), required=False)
    gaps = TeethField(label=gettext_lazy("Missing, not replaced"), required=False)
    extracted = TeethField(label=gettext_lazy("Taken out at delivery"), required=False)
    clasps = TeethField(label=gettext_lazy("Clasped teeth"), required=False)
    rests = TeethField(label=gettext_lazy("Wire rests"), required=False)
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
            ("plaster", gettext_lazy("Plaster on the cast")),
            ("wax-then-copy", gettext_lazy("Wax on the master, then a copy")),
            ("copy-then-plaster", gettext_lazy("A copy, then plaster on it")),
        ),
        widget=forms.RadioSelect,
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
    needs_agreement = forms.BooleanField(
        label=gettext_lazy("The practice agrees to the design first"), required=False
    )
    borders = forms.ChoiceField(label=gettext_lazy("Borders"), widget=forms.RadioSelect)
    polish = forms.ChoiceField(label=gettext_lazy("Polish"), widget=forms.RadioSelect)
    reason = forms.CharField(
        label=gettext_lazy("Why the design changes"), required=False, max_length=200
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
        super().__init__(data, initial=initial(plan, borders, polish, notation))
        self.fields["borders"].choices = offered(  # type: ignore[attr-defined]
            choices.BORDERS, silent=False
        )
        self.fields["polish"].choices = offered(  # type: ignore[attr-defined]
            choices.POLISH, silent=False
        )
        for name in ("replaced", "gaps", "extracted", "clasps", "rests"):
            self.fields[name].notation = notation  # type: ignore[attr-defined]
        self.clasp_teeth = self._clasp_teeth()
        for tooth in self.clasp_teeth:
            self._add_clasp(tooth)

    def _clasp_teeth(self) -> list[int]:
        """Return the clasped teeth that can be read: a slip beside them must not drop their
        wires."""
        text = self["clasps"].value() or ""
        named: set[int] = set()
        for part in (text, *re.split(r"[,;\s]+", text)):
            with suppress(ValueError):
                named.update(parse_teeth(part, self.notation))
        return [tooth for tooth in teeth_of_arch(self.arch) if tooth in named]

    def _add_clasp(self, tooth: int) -> None:
        said = from_fdi(tooth, self.notation)
        self.fields[f"wire_{tooth}"] = MillimetreField(
            label=_("Wire for %(tooth)s") % {"tooth": said},
            required=False,
            min_value=0.4,
            max_value=2.0,
        )
        self.fields[f"undercut_{tooth}"] = forms.ChoiceField(
            label=_("Undercut at %(tooth)s") % {"tooth": said},
            choices=UNDERCUT_STEPS,
            required=False,
        )
        self.fields[f"arm_{tooth}"] = MillimetreField(
            label=_("Free arm at %(tooth)s") % {"tooth": said},
            required=False,
            min_value=3,
            max_value=40,
        )

    @property
    def clasp_rows(self) -> list[dict[str, Any]]:
        """The wire, undercut and free arm of each clasp."""
        return [
            {
                "label": from_fdi(tooth, self.notation),
                "wire": self[f"wire_{tooth}"],
                "undercut": self[f"undercut_{tooth}"],
                "arm": self[f"arm_{tooth}"],
            }
            for tooth in self.clasp_teeth
        ]

    def clean_blocked(self) -> frozenset[tuple[int, str]]:
        """Read the faces."""
        try:
            faces = parse_faces(self.cleaned_data["blocked"], self.notation)
        except ValueError as error:
            raise forms.ValidationError(str(error)) from error
        row = teeth_of_arch(self.arch)
        for tooth, _side in faces:
            if tooth not in row:
                raise forms.ValidationError(
                    _("%(tooth)s is not a tooth of this arch.")
                    % {"tooth": from_fdi(tooth, self.notation)}
                )
        return faces

    def clean(self) -> dict[str, Any]:
        """Refuse teeth of the other arch, each beside its field."""
        data = super().clean() or {}
        row = teeth_of_arch(self.arch)
        for name in (*GONE, *ON_TEETH):
            for tooth in data.get(name) or []:
                if tooth not in row:
                    said = from_fdi(tooth, self.notation)
                    self.add_error(
                        name, _("%(tooth)s is not a tooth of this arch.") % {"tooth": said}
                    )
        return data

    def plan(self) -> Design:
        """Return the design of a valid form."""
        data = self.cleaned_data
        replaced = frozenset(data["replaced"]) | frozenset(data["extracted"])
        return Design(
            arch=self.arch,
            missing=replaced | frozenset(data["gaps"]),
            replaced=replaced,
            extracted=frozenset(data["extracted"]),
            clasps=tuple(
                Clasp(
                    tooth,
                    wire_mm=data.get(f"wire_{tooth}"),
                    undercut_mm=float(data.get(f"undercut_{tooth}") or 0) or None,
                    free_arm_mm=data.get(f"arm_{tooth}"),
                )
                for tooth in self.clasp_teeth
            ),
            rests=frozenset(data["rests"]),
            bar=data["bar"] == "yes",
            joints=data["joints"] or 0,
            blocked=data["blocked"],
            method=cast(BlockOutMethod, data["method"]),
            needs_agreement=data["needs_agreement"],
            copy_in=cast(CopyMaterial, data["copy_in"] or "silicone"),
        )


def initial(plan: Design, borders: str, polish: str, notation: str) -> dict[str, Any]:
    """Return a design as the form shows it."""
    say: Callable[[Iterable[int]], str] = lambda teeth: say_row(teeth, plan.arch, notation)  # noqa: E731
    shown: dict[str, Any] = {
        "tool": "replaced",
        "replaced": say(plan.replaced),
        "gaps": say(plan.missing - plan.replaced),
        "extracted": say(plan.extracted),
        "clasps": say(clasp.tooth for clasp in plan.clasps),
        "rests": say(plan.rests),
        "bar": "yes" if plan.bar else "no",
        "joints": plan.joints,
        "method": plan.method,
        "copy_in": plan.copy_in,
        "blocked": say_faces(plan.blocked, plan.arch, notation),
        "needs_agreement": plan.needs_agreement,
        "borders": borders,
        "polish": polish,
    }
    for clasp in plan.clasps:
        shown[f"wire_{clasp.tooth}"] = clasp.wire_mm
        shown[f"undercut_{clasp.tooth}"] = f"{clasp.undercut_mm:g}" if clasp.undercut_mm else ""
        shown[f"arm_{clasp.tooth}"] = clasp.free_arm_mm
    return shown


def touched(
    data: Mapping[str, Any], tool: str, tooth: int, *, arch: str, notation: str
) -> dict[str, Any]:
    """Return the entries after a tooth was touched with a tool: put there, or taken away again.

    A tooth that goes loses its clasp and rest; a clasp or rest on a missing tooth makes it
    stand again. Entries that cannot be read are returned as they are.
    """
    entries = {name: data[name] for name in data}
    try:
        sets = {
            name: set(parse_teeth(str(entries.get(name, "")), notation))
            for name in (*GONE, *ON_TEETH)
        }
        faces = set(parse_faces(str(entries.get("blocked", "")), notation))
    except ValueError:
        return entries
    if tool in SIDES:
        faces ^= {(tooth, tool)}
        if faces and entries.get("method") == "none":
            entries["method"] = "plaster"
    elif tool in sets:
        was_there = tooth in sets[tool]
        cleared = GONE + ON_TEETH if tool in GONE else GONE
        for name in cleared:
            sets[name].discard(tooth)
        sets[tool] = sets[tool] - {tooth} if was_there else sets[tool] | {tooth}
    entries |= {name: say_row(teeth, arch, notation) for name, teeth in sets.items()}
    entries["blocked"] = say_faces(faces, arch, notation)
    return entries
