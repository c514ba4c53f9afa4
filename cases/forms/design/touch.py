"""What a touch on a tooth does to the entries, and how they read in another numbering."""

from __future__ import annotations

import re
from collections.abc import Collection, Iterable, Mapping
from contextlib import suppress
from typing import Any

from django.utils.translation import gettext as _
from django.utils.translation import gettext_noop

from cases.domain.teeth import (
    PRIMARY_TEETH_PER_QUADRANT,
    arch_of,
    from_fdi,
    parse_teeth,
    primary_before,
)
from cases.forms.design.entries import SIDES, parse_faces, say_faces, say_row
from cases.forms.design.form import FACES, GONE, ON_REPLACED, ON_TEETH, ROWS

TOOLS: tuple[tuple[str, str], ...] = (
    ("replaced", gettext_noop("Replaced")),
    ("gaps", gettext_noop("Missing, not replaced")),
    ("extracted", gettext_noop("Taken out at delivery")),
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
    said = {"tooth": from_fdi(tooth, notation)}
    try:
        sets = {name: set(_read(entries, name, notation)) for name in ROWS}
        faces = set(parse_faces(str(entries.get("blocked", "")), notation))
        more = set(parse_faces(str(entries.get("more_faces", "")), notation))
    except ValueError:
        return entries, _("An entry cannot be read. Correct it first.")
    if tool.startswith(SURVEY):
        face = (tooth, tool.removeprefix(SURVEY))
        gone = any(tooth in sets[name] for name in GONE)
        if face not in asked:
            more ^= {face}
            entries["more_faces"] = say_faces(more, arch, notation)
        words = _SURVEYED[gone][2 if face in asked else 0 if face in more else 1]
        return entries, _(words) % {**said, "side": _(SIDES[face[1]])}
    refused = _refused(sets, tool, tooth)
    if refused:
        return entries, _(refused) % said
    if tool in SIDES:
        faces ^= {(tooth, tool)}
        if faces and entries.get("method") == "none":
            entries["method"] = "plaster"
        there = (tooth, tool) in faces
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
    if tool == "replaced" and not was_there:
        cleared = tuple(name for name in cleared if name != "hollowed")
    for name in cleared:
        sets[name].discard(tooth)
    sets[tool] = sets[tool] - {tooth} if was_there else sets[tool] | {tooth}
    return not was_there


def _read(entries: Mapping[str, Any], name: str, notation: str) -> list[int]:
    """Read teeth; a milk tooth stands for the place of the tooth that will follow."""
    found = parse_teeth(str(entries.get(name, "")), notation)
    if name != "primary":
        return list(found)
    return [tooth - 40 if tooth > 50 else tooth for tooth in found]


def _written(
    sets: Mapping[str, set[int]], faces: set[tuple[int, str]], arch: str, notation: str
) -> dict[str, str]:
    """Write sets and faces as the entries show them."""
    row = {name: _row_written(name, teeth, arch, notation) for name, teeth in sets.items()}
    row["blocked"] = say_faces(faces, arch, notation)
    return row


def _row_written(name: str, teeth: Iterable[int], arch: str, notation: str) -> str:
    if name != "primary":
        return say_row(teeth, arch, notation)
    milk = (primary_before(tooth) for tooth in sorted(teeth) if tooth % 10 <= 5)
    return ", ".join(from_fdi(tooth, notation) for tooth in milk)


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
    elif name == "primary":
        said = [_row_written(name, _read({name: text}, name, old), arch, new)]
    else:
        found = parse_teeth(text, old)
        said = [say_row(found, which, new) for which in arches]
    return ", ".join(filter(None, said))
