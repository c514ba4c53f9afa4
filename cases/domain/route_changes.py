"""What changed from one version of the route to the next, in plain sentences."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import fields
from typing import Any

from cases.domain.check_spec import CheckSpec
from cases.domain.conditions import CONDITION_WORDS
from cases.domain.network import EdgeSpec, RouteTemplate, StageSpec

_STAGE_WORDS: dict[str, str] = {
    "name": "name",
    "kind": "kind",
    "when": "present when",
    "minutes": "minutes",
    "skill": "skill",
    "station": "station",
    "night": "may it rest overnight",
    "night_words": "words for the night",
    "night_when": "exceptions for the night",
    "public_words": "sentence for the dentist",
    "holds": "things held",
    "needs_cast": "needs the working cast",
    "at_practice": "goes to the practice",
    "batch": "done in batches",
    "photo_before": "photograph before",
    "photo_when": "photograph asked when",
    "more_each": "minutes for each further case",
    "beside_copy": "the master may be in hand for it where a copy is",
    "inside_words": "waits inside the stage",
    "other_than": "not by who did the stage",
    "mark": "source",
}
_EDGE_WORDS: dict[str, str] = {
    "min_wait": "wait in minutes",
    "max_wait": "latest start in minutes",
    "least_wait": "least wait in minutes",
    "latest_words": "words for the latest start",
    "mark": "source",
}
_CHECK_WORDS: dict[str, str] = {
    "stage": "stage",
    "subject": "subject",
    "subjects": "asked for",
    "words": "words",
    "if_not": "words if not",
    "when": "asked when",
    "yes_no": "yes or no",
    "measures": "numbers and limits",
    "photo": "photograph",
    "keeps": "value kept",
    "again": "looked at again",
    "required": "required",
    "rule": "rule",
    "mark": "source",
    "limit": "limit in words",
}


def difference(old: RouteTemplate, new: RouteTemplate) -> tuple[str, ...]:
    """Return what changed between two templates, one plain sentence a change."""
    names = {stage.key: stage.name for stage in (*old.stages, *new.stages)}
    return (
        *_stage_changes(old, new),
        *_edge_changes(old, new, names),
        *_check_changes(old, new),
    )


def _stage_changes(old: RouteTemplate, new: RouteTemplate) -> Iterator[str]:
    before = {stage.key: stage for stage in old.stages}
    after = {stage.key: stage for stage in new.stages}
    for key, stage in before.items():
        if key not in after:
            yield f"Stage “{stage.name}” was taken out."
    for key, stage in after.items():
        if key not in before:
            yield f"Stage “{stage.name}” was added."
        else:
            yield from _changed(f"Stage “{stage.name}”", before[key], stage, _STAGE_WORDS)
    both = [key for key in before if key in after]
    if both != [key for key in after if key in before]:
        yield "The stages stand in another order in the list."


def _edge_changes(
    old: RouteTemplate, new: RouteTemplate, names: Mapping[str, str]
) -> Iterator[str]:
    before = {(edge.before, edge.after, edge.when): edge for edge in old.edges}
    after = {(edge.before, edge.after, edge.when): edge for edge in new.edges}
    for key, edge in before.items():
        if key not in after:
            yield f"{_edge_name(edge, names)} was taken out."
    for key, edge in after.items():
        if key not in before:
            yield f"{_edge_name(edge, names)} was added."
        else:
            yield from _changed(_edge_name(edge, names), before[key], edge, _EDGE_WORDS)


def _edge_name(edge: EdgeSpec, names: Mapping[str, str]) -> str:
    ends = f"“{names.get(edge.before, edge.before)}” before “{names.get(edge.after, edge.after)}”"
    if edge.when == "always":
        return ends
    words = CONDITION_WORDS.get(edge.when, edge.when)
    return f"{ends} (when: {words})"


def _check_changes(old: RouteTemplate, new: RouteTemplate) -> Iterator[str]:
    before = {check.number: check for check in old.checks}
    after = {check.number: check for check in new.checks}
    for number, check in before.items():
        if number not in after:
            yield f"Check {number} “{check.words}” was taken out."
    for number, check in after.items():
        if number not in before:
            yield f"Check {number} “{check.words}” was added."
        else:
            yield from _changed(f"Check {number}", before[number], check, _CHECK_WORDS)


def _changed(
    owner: str,
    old: StageSpec | EdgeSpec | CheckSpec,
    new: StageSpec | EdgeSpec | CheckSpec,
    words: Mapping[str, str],
) -> Iterator[str]:
    for item in fields(new):
        one, other = getattr(old, item.name), getattr(new, item.name)
        if one != other:
            label = words.get(item.name, item.name)
            yield f"{owner}: {label} changed from {_say(one)} to {_say(other)}."


def _say(value: Any) -> str:
    """Say a stored value as a person reads it."""
    if value is None or value == "" or value == ():
        return "nothing"
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, float | int):
        return f"{value:g}"
    if isinstance(value, str):
        return f"“{value}”"
    if isinstance(value, Mapping):
        return "; ".join(_say_pair(key, part) for key, part in value.items()) or "nothing"
    if isinstance(value, Sequence):
        return ", ".join(_say(part) for part in value)
    return _say_parts(value)


def _say_pair(key: str, part: Any) -> str:
    if not isinstance(part, Mapping):
        return f"{key} {_say(part)}"
    formula = " + ".join(
        f"{coefficient:g}" if letter == "fixed" else f"{coefficient:g}{letter}"
        for letter, coefficient in part.items()
    )
    return (f"{key}: {formula}" if key != "*" else formula) if formula else "0"


def _say_parts(value: Any) -> str:
    """A nested part (a thing held, a measure, a later look) by its filled fields."""
    parts = [
        str(getattr(value, item.name)) if isinstance(getattr(value, item.name), str)
        else f"{item.name} {_say(getattr(value, item.name))}"
        for item in fields(value)
        if getattr(value, item.name) not in (None, "", (), "always")
    ]  # fmt: skip
    return f"({' '.join(parts)})"
