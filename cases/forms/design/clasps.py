"""The entries of one clasp: its wire, where its tip lies, what faces it."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, TypeGuard, cast

from django import forms
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from cases.domain.alloys import ALLOYS
from cases.domain.design import Bracing, Clasp, Section, ToothState
from cases.domain.wire import THICKEST_MM, Wire, is_gauge, parse_wire
from cases.forms.design.entries import millimetres, number

UNDERCUT_STEPS = (
    ("", gettext_lazy("not measured")),
    ("0", gettext_lazy("none")),
    ("0.25", gettext_lazy("up to 0.25 mm (0.010 in)")),
    ("0.5", gettext_lazy("up to 0.50 mm (0.020 in)")),
    ("0.75", gettext_lazy("up to 0.75 mm (0.030 in)")),
    ("1", gettext_lazy("more than 0.75 mm (0.030 in)")),
)
"""Steps of the undercut gauge in mm. Common practice, no published source."""
LEVEL_STEPS = (
    ("", gettext_lazy("not looked at")),
    ("0", gettext_lazy("none: no daylight at the rod")),
    *UNDERCUT_STEPS[2:],
)
SYSTEMS = (
    ("mm", "mm"),
    ("awg", "AWG"),
    ("swg", "SWG"),
    ("unknown", gettext_lazy("gauge, table unknown")),
)
TIPS = (
    ("", gettext_lazy("Not said")),
    ("mesial", gettext_lazy("Mesial")),
    ("distal", gettext_lazy("Distal")),
)
FACES = (("buccal", gettext_lazy("Cheek side")), ("lingual", gettext_lazy("Tongue side")))
BRACINGS = (
    ("", gettext_lazy("Not said")),
    ("plate", gettext_lazy("The plate")),
    ("collar", gettext_lazy("An acrylic collar")),
    ("wire", gettext_lazy("A second wire")),
    ("none", gettext_lazy("Nothing")),
)
STATES = (
    ("", gettext_lazy("Nothing told")),
    ("loose", gettext_lazy("Loose")),
    ("to-be-lost", gettext_lazy("Will be lost")),
    ("root-filled", gettext_lazy("Root-filled")),
)
SECTIONS = (("round", gettext_lazy("Round")), ("half_round", gettext_lazy("Half-round")))
WRAPS = (
    ("", gettext_lazy("Not judged")),
    ("yes", gettext_lazy("Past half its round")),
    ("no", gettext_lazy("Half its round or less")),
)
MEETS = (
    ("", gettext_lazy("Not judged")),
    ("yes", gettext_lazy("Before the tip, or with it")),
    ("no", gettext_lazy("After the tip")),
)

# The lengths of a clasp beside its wire: name of the entry, of the design's field, label, bounds.
LENGTHS: tuple[tuple[str, str, Any, float, float], ...] = (
    ("arm", "free_arm_mm", gettext_lazy("Free arm at %(tooth)s"), 3, 40),
    (
        "thin",
        "tip_wire_mm",
        gettext_lazy("Wire at the tip of %(tooth)s, where it is tapered"),
        0.3,
        2,
    ),
    ("height", "bracing_mm", gettext_lazy("Bracing behind %(tooth)s above its line"), -3, 6),
    ("line", "line_mm", gettext_lazy("Cusp tip to survey line behind %(tooth)s"), 0, 15),
    ("gum", "gum_mm", gettext_lazy("Tip at %(tooth)s to the gum line"), 0, 8),
    ("room", "room_mm", gettext_lazy("Room where %(tooth)s crosses the bite"), 0, 8),
    ("joint", "joint_mm", gettext_lazy("Joint to the free arm of %(tooth)s"), 0, 40),
)
CHOICES: tuple[tuple[str, Any, Any], ...] = (
    ("section", gettext_lazy("Section of the wire for %(tooth)s"), SECTIONS),
    ("undercut", gettext_lazy("Undercut at %(tooth)s"), UNDERCUT_STEPS),
    ("level", gettext_lazy("Undercut at %(tooth)s with the cast level"), LEVEL_STEPS),
    ("tip", gettext_lazy("Tip at %(tooth)s"), TIPS),
    ("face", gettext_lazy("The arm at %(tooth)s lies on the"), FACES),
    ("bracing", gettext_lazy("What faces the clasp on %(tooth)s"), BRACINGS),
    ("meets", gettext_lazy("Going in, the bracing meets %(tooth)s"), MEETS),
    ("state", gettext_lazy("Told of %(tooth)s"), STATES),
    ("wraps", gettext_lazy("Held all round at %(tooth)s"), WRAPS),
)
FIRST_SHOWN = ("tip", "bracing")


_SAID: dict[bool | None, str] = {None: "", True: "yes", False: "no"}


def _judged(entry: str | None) -> bool | None:
    return {"yes": True, "no": False}.get(entry or "")


def read_wire(written: str, system: str) -> Wire | None:
    """Read a wire by the table chosen beside it; None where nothing was written.

    A number too large for any wire in millimetres is taken for a gauge whose table nobody named.

    Raises
    ------
    ValueError
        As ``wire.parse_wire``.
    """
    text = written.strip()
    if not text:
        return None
    table = "" if system == "unknown" else system or "mm"
    if table == "mm" and text.isdecimal() and int(text) > THICKEST_MM:
        table = ""
    return parse_wire(text, table)


def gauge_alone(written: str, system: str) -> str:
    """Return a gauge whose table is said to be unknown; empty for every other wire.

    It may stand in a draft until somebody has asked; the rules keep the design from being finished.
    """
    text = written.strip()
    return text if system == "unknown" and is_gauge(text) else ""


def as_written(mm: float | None, gauge: str, system: str) -> tuple[str, str]:
    """Return a wire as its two entries show it: the number, and what it is measured in."""
    if gauge and system in {"awg", "swg"}:
        return gauge, system
    if gauge and mm is None:
        return gauge, "unknown"
    return number(mm), "mm"


def by_gauge(wire: Wire | None) -> TypeGuard[Wire]:
    """Tell whether a wire was asked for by a gauge, so that its table is kept with it."""
    return wire is not None and wire.system != "mm"


def alloy_choices() -> list[tuple[str, str]]:
    """Return the alloys of wire in the active language."""
    return [(alloy.key, _(alloy.name)) for alloy in ALLOYS.values()]


def add_entries(form: forms.Form, tooth: int, label: str) -> None:
    """Add the entries of a clasp on ``tooth``, written as ``label``; none of them must be
    filled."""
    said = {"tooth": label}
    form.fields[f"wire_{tooth}"] = forms.CharField(
        label=_("Wire for %(tooth)s") % said, required=False, max_length=20
    )
    form.fields[f"system_{tooth}"] = forms.ChoiceField(
        label=_("The wire for %(tooth)s is measured in") % said, choices=SYSTEMS, required=False
    )
    form.fields[f"alloy_{tooth}"] = forms.ChoiceField(
        label=_("Alloy of the wire for %(tooth)s") % said, choices=alloy_choices(), required=False
    )
    for name, _field, words, low, high in LENGTHS:
        form.fields[f"{name}_{tooth}"] = millimetres(words % said, low, high)
    for name, words, offered in CHOICES:
        form.fields[f"{name}_{tooth}"] = forms.ChoiceField(
            label=words % said, choices=offered, required=False
        )
    form.fields[f"shows_{tooth}"] = forms.BooleanField(
        label=_("The clasp on %(tooth)s would be seen in front") % said, required=False
    )


def initial_of(clasp: Clasp) -> dict[str, Any]:
    """Return a clasp as its entries show it."""
    tooth = clasp.tooth
    wire, system = as_written(clasp.wire_mm, clasp.gauge, clasp.gauge_system)
    shown: dict[str, Any] = {
        f"wire_{tooth}": wire,
        f"system_{tooth}": system,
        f"alloy_{tooth}": clasp.alloy,
        f"section_{tooth}": clasp.section,
        f"undercut_{tooth}": number(clasp.undercut_mm),
        f"level_{tooth}": number(clasp.level_mm),
        f"tip_{tooth}": clasp.tip,
        f"face_{tooth}": clasp.face,
        f"bracing_{tooth}": clasp.bracing,
        f"state_{tooth}": clasp.state,
        f"wraps_{tooth}": _SAID[clasp.wraps],
        f"meets_{tooth}": _SAID[clasp.braces_first],
        f"shows_{tooth}": clasp.shows,
    }
    for name, field, _label, _low, _high in LENGTHS:
        shown[f"{name}_{tooth}"] = number(getattr(clasp, field))
    return shown


def check_wire(form: forms.Form, tooth: int) -> None:
    """Refuse, beside its field, a wire that cannot be read or whose table nobody named."""
    data = form.cleaned_data
    written = data.get(f"wire_{tooth}", ""), data.get(f"system_{tooth}", "")
    if gauge_alone(*written):
        return
    try:
        read_wire(*written)
    except ValueError as error:
        form.add_error(f"wire_{tooth}", str(error))


def clasp_of(data: Mapping[str, Any], tooth: int) -> Clasp:
    """Return the clasp of valid entries."""

    def entry(name: str) -> Any:
        return data.get(f"{name}_{tooth}")

    written = entry("wire") or "", entry("system") or ""
    alone = gauge_alone(*written)
    wire = None if alone else read_wire(*written)
    return Clasp(
        tooth=tooth,
        wire_mm=round(wire.mm, 4) if wire else None,
        gauge=wire.gauge if by_gauge(wire) else alone,
        gauge_system=wire.system if by_gauge(wire) else "",
        alloy=entry("alloy") or Clasp(tooth).alloy,
        section=cast(Section, entry("section") or "round"),
        undercut_mm=float(entry("undercut")) if entry("undercut") else None,
        level_mm=float(entry("level")) if entry("level") else None,
        tip=entry("tip") or "",
        face=entry("face") or "buccal",
        bracing=cast(Bracing, entry("bracing") or ""),
        state=cast(ToothState, entry("state") or ""),
        shows=bool(entry("shows")),
        wraps=_judged(entry("wraps")),
        braces_first=_judged(entry("meets")),
        **{field: entry(name) for name, field, _label, _low, _high in LENGTHS},
    )
