"""What a touch on a tooth does to the entries, and how they read in another numbering."""

from __future__ import annotations

import re
from collections.abc import Collection, Mapping
from contextlib import suppress
from typing import Any

from django.utils.translation import gettext as _
from django.utils.translation import gettext_noop

from cases.domain.teeth import (
    PRIMARY_TEETH_PER_QUADRANT,
    arch_of,
    parse_teeth,
    place_of,
    primary_before,
)
from cases.domain.toothwords import labels
from cases.forms.design.entries import SIDES, parse_faces, say_faces, say_row
from cases.forms.design.form import FACES, GONE, ON_REPLACED, ON_TEETH, ROWS

TOOLS: tuple[tuple[str, str], ...] = (
    ("replaced", gettext_noop("Replaced")),
    ("gaps", gettext_noop("Missing, not replaced")),
    ("extracted", gettext_noop("Taken out at delivery")),
    ("out", gettext_noop("Taken out, not replaced")),
    ("dropped", gettext_noop("Left out, no room")),
    ("primary", gettext_noop("Milk tooth")),
    ("clasps", gettext_noop("Clasp")),
    ("rests", gettext_noop("Wire rest")),
    ("stops", gettext_noop("Acrylic stop")),
    ("abutments", gettext_noop("Abutment")),
    ("joint_teeth", gettext_noop("Joint")),
    ("hollowed", gettext_noop("Hollowed over a wire")),
    ("mesial", gettext_noop("Block out mesial")),
    ("distal", gettext_noop("Block out distal")),
    ("buccal", gettext_noop("Block out cheek side")),
    ("lingual", gettext_noop("Block out tongue side")),
    ("survey-mesial", gettext_noop("Survey mesial")),
    ("survey-distal", gettext_noop("Survey distal")),
    ("survey-buccal", gettext_noop("Survey cheek side")),
    ("survey-lingual", gettext_noop("Survey tongue side")),
)
"""What a touch on a tooth does: chosen first, then teeth are touched."""

SURVEY = "survey-"
"""Begins the name of a tool that asks for a face in the survey; its side follows."""
# What is said of a face that is asked for, that is not any more, and that is asked for anyway: of
# the side of a tooth, and of the ridge where a tooth is gone.
_SURVEYED: dict[bool, tuple[str, str, str]] = {
    False: (
        gettext_noop(
            "%(tooth)s %(side)s is surveyed: choose in the survey what the gauge shows there."
        ),
        gettext_noop("%(tooth)s %(side)s is not surveyed any more."),
        gettext_noop("%(tooth)s %(side)s stands in the survey anyway: choose there what it shows."),
    ),
    True: (
        gettext_noop(
            "The ridge at %(tooth)s, %(side)s, is surveyed: choose in the survey what the gauge "
            "shows there."
        ),
        gettext_noop("The ridge at %(tooth)s, %(side)s, is not surveyed any more."),
        gettext_noop(
            "The ridge at %(tooth)s, %(side)s, stands in the survey anyway: choose there what it "
            "shows."
        ),
    ),
}

_SAID: dict[str, tuple[str, str]] = {
    "replaced": (gettext_noop("%(tooth)s is replaced."), gettext_noop("%(tooth)s stands again.")),
    "gaps": (
        gettext_noop("%(tooth)s is missing and not replaced."),
        gettext_noop("%(tooth)s stands again."),
    ),
    "extracted": (
        gettext_noop("%(tooth)s is taken out at delivery and replaced."),
        gettext_noop("%(tooth)s is not taken out after all."),
    ),
    "out": (
        gettext_noop("%(tooth)s is taken out at delivery and not replaced."),
        gettext_noop("%(tooth)s is not taken out after all."),
    ),
    "dropped": (
        gettext_noop("%(tooth)s is left out for want of room."),
        gettext_noop("%(tooth)s is not left out after all."),
    ),
    "primary": (
        gettext_noop("At %(tooth)s the milk tooth still stands."),
        gettext_noop("At %(tooth)s no milk tooth stands any more."),
    ),
    "clasps": (gettext_noop("A clasp on %(tooth)s."), gettext_noop("No clasp on %(tooth)s.")),
    "rests": (gettext_noop("A wire rest on %(tooth)s."), gettext_noop("No rest on %(tooth)s.")),
    "stops": (
        gettext_noop("An acrylic stop on %(tooth)s."), gettext_noop("No stop on %(tooth)s."),
    ),
    "abutments": (
        gettext_noop("%(tooth)s is an abutment."), gettext_noop("%(tooth)s is no abutment."),
    ),
    "joint_teeth": (
        gettext_noop("A joint at %(tooth)s."), gettext_noop("No joint at %(tooth)s."),
    ),
    "hollowed": (
        gettext_noop("%(tooth)s is hollowed over a wire."),
        gettext_noop("%(tooth)s is not hollowed."),
    ),
}  # fmt: skip


def touched(
    data: Mapping[str, Any],
    tool: str,
    tooth: int,
    *,
    arch: str,
    notation: str,
    asked: Collection[tuple[int, str]] = (),
) -> tuple[dict[str, Any], str]:
    """Return the entries after a tooth was touched with a tool, and a sentence that says it.

    What was there is taken away again. A tooth that goes loses its clasp, rest and stop, and the
    sentence says so. What cannot be is refused with the reason: a wire on a tooth that is gone, a
    hollow where no denture tooth comes, a milk tooth in a molar's place. Then, and where an entry
    cannot be read, the entries are returned as they are.

    ``asked`` are the faces that the survey asks for whether they are touched or not.
    """
    entries = {name: data[name] for name in data}
    try:
        milk = {place_of(one) for one in _named(entries, "primary", notation)}
        sets = {name: _read(entries, name, notation, milk) for name in ROWS}
        faces = {name: _read_faces(entries, name, notation, milk) for name in FACES}
    except ValueError:
        return entries, _("An entry cannot be read. Correct it first.")
    said = {"tooth": labels(notation, milk if tool != "primary" else ())(tooth)}
    if tool.startswith(SURVEY):
        face = (tooth, tool.removeprefix(SURVEY))
        gone = any(tooth in sets[name] for name in GONE)
        more = faces["more_faces"]
        if face not in asked:
            more ^= {face}
            entries |= _written(sets, faces, arch, notation)
        words = _SURVEYED[gone][2 if face in asked else 0 if face in more else 1]
        return entries, _(words) % {**said, "side": _(SIDES[face[1]])}
    refused = _refused(sets, tool, tooth)
    if refused:
        return entries, _(refused) % said
    if tool in SIDES:
        faces["blocked"] ^= {(tooth, tool)}
        if faces["blocked"] and entries.get("method") == "none":
            entries["method"] = "plaster"
        there = (tooth, tool) in faces["blocked"]
        words = _("%(tooth)s %(side)s is blocked out.") if there else _(
            "%(tooth)s %(side)s is not blocked out."
        )  # fmt: skip
        sentence = words % {**said, "side": _(SIDES[tool])}
    elif tool in sets:
        before = {name for name in ON_TEETH if tooth in sets[name]}
        there = _toggle(sets, tool, tooth)
        sentence = _(_SAID[tool][0 if there else 1]) % said
        if tool in GONE and before:
            lost = ", ".join(_(words).lower() for name, words in TOOLS if name in before)
            sentence += " " + _("Taken away with it: %(what)s.") % {"what": lost}
    else:
        return entries, ""
    entries |= _written(sets, faces, arch, notation)
    return entries, sentence


def _refused(sets: Mapping[str, set[int]], tool: str, tooth: int) -> str:
    """Return why a touch cannot be; empty where it can, or only takes away what is there."""
    if tool in SIDES or tooth in sets.get(tool, ()):
        return ""
    if tool in ON_TEETH and any(tooth in sets[name] for name in GONE):
        return gettext_noop(
            "%(tooth)s will not be there: nothing of the piece can hold on it. Touch another "
            "tooth, or take away first what says so."
        )
    if tool in ON_REPLACED and not any(tooth in sets[name] for name in ("replaced", "extracted")):
        return gettext_noop("No denture tooth comes at %(tooth)s, so none is hollowed there.")
    if tool == "primary" and tooth % 10 > PRIMARY_TEETH_PER_QUADRANT:
        return gettext_noop("No milk tooth stands at a molar’s place, as at %(tooth)s.")
    return ""


def _toggle(sets: dict[str, set[int]], tool: str, tooth: int) -> bool:
    """Put a tooth under a tool, or take it away; return whether it is there now."""
    was_there = tooth in sets[tool]
    cleared: tuple[str, ...] = ()
    if tool in GONE:
        cleared = (*GONE, *ON_TEETH, *ON_REPLACED, "primary")
    elif tool == "primary":
        cleared = (*GONE, *ON_REPLACED)
    if tool in ("extracted", "out", "primary"):
        # A milk tooth that stands may be taken out at delivery.
        stays = ("extracted", "out") if tool == "primary" else ("primary",)
        cleared = tuple(name for name in cleared if name not in stays)
    if tool == "replaced" and not was_there:
        cleared = tuple(name for name in cleared if name != "hollowed")
    for name in cleared:
        sets[name].discard(tooth)
    sets[tool] = sets[tool] - {tooth} if was_there else sets[tool] | {tooth}
    return not was_there


def _named(entries: Mapping[str, Any], name: str, notation: str) -> tuple[int, ...]:
    return parse_teeth(str(entries.get(name, "")), notation)


def _read(entries: Mapping[str, Any], name: str, notation: str, milk: set[int]) -> set[int]:
    """Read places; a milk tooth stands for its own, where it is said to stand or to be gone."""
    return {
        _place(tooth, milk, gone=name in (*GONE, "primary"))
        for tooth in _named(entries, name, notation)
    }


def _read_faces(
    entries: Mapping[str, Any], name: str, notation: str, milk: set[int]
) -> set[tuple[int, str]]:
    found = parse_faces(str(entries.get(name, "")), notation)
    return {(_place(tooth, milk), side) for tooth, side in found}


def _place(tooth: int, milk: set[int], *, gone: bool = False) -> int:
    place = place_of(tooth)
    if place != tooth and place not in milk and not gone:
        raise ValueError(f"No milk tooth is entered at {place}.")
    return place


def _written(
    sets: Mapping[str, set[int]],
    faces: Mapping[str, set[tuple[int, str]]],
    arch: str,
    notation: str,
) -> dict[str, str]:
    """Write sets and faces as the entries show them."""
    milk = sets["primary"]

    def number(place: int) -> int:
        return primary_before(place) if place in milk and place % 10 <= 5 else place

    written = {name: say_row(map(number, row), arch, notation) for name, row in sets.items()}
    for name, named in faces.items():
        written[name] = say_faces(((number(t), side) for t, side in named), arch, notation)
    return written


def renumbered(data: Mapping[str, Any], old: str, new: str, *, arch: str) -> dict[str, Any]:
    """Return the entries as they read in another numbering.

    Each entry by itself, and of one that cannot be read as a whole each part: what cannot be read
    stays as it was typed, and hinders nothing else from being written anew.
    """
    entries = {name: data[name] for name in data}
    for name in (*ROWS, *FACES):
        if entries.get(name):
            entries[name] = _anew(name, str(entries[name]), old, new, arch)
    return entries


def _anew(name: str, text: str, old: str, new: str, arch: str) -> str:
    with suppress(ValueError):
        return _entry_anew(name, text, old, new, arch)
    parts = []
    for part in filter(None, (part.strip() for part in re.split("[,;]", text))):
        try:
            parts.append(_entry_anew(name, part, old, new, arch))
        except ValueError:
            parts.append(part)
    return ", ".join(parts)


def _entry_anew(name: str, text: str, old: str, new: str, arch: str) -> str:
    """Write teeth of the other arch too: left as they are, they would name others in this one."""
    arches = (arch, "upper" if arch == "lower" else "lower")
    if name in FACES:
        faces = parse_faces(text, old)
        said = [
            say_faces((one for one in faces if arch_of(one[0]) == which), which, new)
            for which in arches
        ]
    else:
        found = parse_teeth(text, old)
        if name == "primary":
            found = tuple(primary_before(t) if t % 10 <= 5 and t < 50 else t for t in found)
        said = [say_row(found, which, new) for which in arches]
    return ", ".join(filter(None, said))
