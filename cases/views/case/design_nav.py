"""The parts of the design page as links, each with how many things in it want mending."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass
from typing import Final

from django.utils.translation import gettext as _
from django.utils.translation import gettext_noop

from cases.domain.rule_spec import Finding
from cases.forms.design.form import DesignForm

PARTS: Final = (
    ("teeth", gettext_noop("Teeth")),
    ("told", gettext_noop("Told")),
    ("survey", gettext_noop("Survey")),
    ("hold", gettext_noop("Hold")),
    ("block-out", gettext_noop("Block-out")),
    ("bar", gettext_noop("Strengthener")),
    ("acrylic", gettext_noop("Acrylic")),
    ("finish", gettext_noop("Finish")),
    ("rules", gettext_noop("Rules")),
    ("change", gettext_noop("Change")),
)
"""In the order of the page; the last only where a design that was drawn is changed."""

_FIELDS: Final = {
    "teeth": ("replaced", "gaps", "extracted", "out", "dropped", "primary"),
    "told": ("told", "drawing", "alloy"),
    "survey": ("tilt", "marked", "step", "flat", "more"),
    "block-out": ("method", "copy", "blocked", "taper", "unrelieved"),
    "bar": ("bar", "plate"),
    "acrylic": (
        "cover",
        "hollowed",
        "relieved",
        "occlusion",
        "crest",
        "on",
        "gap",
        "mould",
        "tall",
    ),
    "finish": ("borders", "polish", "needs"),
    "change": ("reason", "asked", "again"),
}  # fmt: skip
"""Where an entry stands, by the first word of its name; every other belongs to the hold."""
_PART_OF: Final = {word: part for part, words in _FIELDS.items() for word in words}
_RULES: Final = {
    "PATH": "survey", "BLK": "block-out", "CLP": "hold", "SUP": "hold", "BAR": "bar",
    "THK": "bar", "BOR": "acrylic", "TTH": "acrylic", "IMM": "teeth", "AGR": "finish",
    "ALL": "told",
}  # fmt: skip
"""The part in which what a rule speaks of is entered, by the first word of its id."""


@dataclass(frozen=True)
class PartLink:
    """A link to a part of the page; ``count`` things in it want mending."""

    anchor: str
    words: str
    count: int


def part_of_field(name: str) -> str:
    """Return the part of the page in which an entry stands."""
    if name.startswith("alloy_") and name != "alloy_named":
        return "hold"
    return _PART_OF.get(name.split("_")[0], "hold")


def part_links(form: DesignForm, findings: Iterable[Finding], *, drawn: bool) -> list[PartLink]:
    """Return the parts, with entries that are refused and rules that keep the design open.

    A rule counts where its matter is entered, and among the rules.
    """
    counts: Counter[str] = Counter()
    if form.is_bound:
        for name, errors in form.errors.items():
            if name in form.fields:
                counts[part_of_field(name)] += len(errors)
    for finding in findings:
        if finding.blocks:
            counts[_RULES[finding.rule.split("-")[0]]] += 1
            counts["rules"] += 1
    return [
        PartLink(f"part-{key}", _(words), counts[key])
        for key, words in PARTS
        if drawn or key != "change"
    ]
