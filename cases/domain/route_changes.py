"""What changed from one version of the route to the next, in plain sentences."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import fields
from typing import Any

from cases.domain.check_spec import CheckSpec
from cases.domain.conditions import CONDITION_WORDS
from cases.domain.network import EdgeSpec, RouteTemplate, StageSpec
from cases.domain.words import N_
from cases.domain.words import gettext as _

_STAGE_WORDS: dict[str, str] = {
    "name": N_("name"),
    "kind": N_("kind"),
    "when": N_("present when"),
    "minutes": N_("minutes"),
    "skill": N_("skill"),
    "station": N_("station"),
    "night": N_("may it rest overnight"),
    "night_words": N_("words for the night"),
    "night_when": N_("exceptions for the night"),
    "public_words": N_("sentence for the dentist"),
    "holds": N_("things held"),
    "needs_cast": N_("needs the working cast"),
    "at_practice": N_("goes to the practice"),
    "batch": N_("done in batches"),
    "photo_before": N_("photograph before"),
    "photo_when": N_("photograph asked when"),
    "more_each": N_("minutes for each further case"),
    "beside_copy": N_("the master may be in hand for it where a copy is"),
    "inside_words": N_("waits inside the stage"),
    "other_than": N_("not by who did the stage"),
    "mark": N_("source"),
}
_EDGE_WORDS: dict[str, str] = {
    "min_wait": N_("wait in minutes"),
    "max_wait": N_("latest start in minutes"),
    "least_wait": N_("least wait in minutes"),
    "latest_words": N_("words for the latest start"),
    "mark": N_("source"),
}
_CHECK_WORDS: dict[str, str] = {
    "stage": N_("stage"),
    "subject": N_("subject"),
    "subjects": N_("asked for"),
    "words": N_("words"),
    "if_not": N_("words if not"),
    "when": N_("asked when"),
    "yes_no": N_("yes or no"),
    "measures": N_("numbers and limits"),
    "told": N_("words beside the numbers"),
    "photo": N_("photograph"),
    "keeps": N_("value kept"),
    "again": N_("looked at again"),
    "required": N_("required"),
    "rule": N_("rule"),
    "mark": N_("source"),
    "limit": N_("limit in words"),
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
            yield _("Stage “%(stage)s” was taken out.") % {"stage": stage.name}
    for key, stage in after.items():
        if key not in before:
            yield _("Stage “%(stage)s” was added.") % {"stage": stage.name}
        else:
            yield from _changed(
                _("Stage “%(stage)s”") % {"stage": stage.name}, before[key], stage, _STAGE_WORDS
            )
    both = [key for key in before if key in after]
    if both != [key for key in after if key in before]:
        yield _("The stages stand in another order in the list.")


def _edge_changes(
    old: RouteTemplate, new: RouteTemplate, names: Mapping[str, str]
) -> Iterator[str]:
    before = {(edge.before, edge.after, edge.when): edge for edge in old.edges}
    after = {(edge.before, edge.after, edge.when): edge for edge in new.edges}
    for key, edge in before.items():
        if key not in after:
            yield _("%(edge)s was taken out.") % {"edge": _edge_name(edge, names)}
    for key, edge in after.items():
        if key not in before:
            yield _("%(edge)s was added.") % {"edge": _edge_name(edge, names)}
        else:
            yield from _changed(_edge_name(edge, names), before[key], edge, _EDGE_WORDS)


def _edge_name(edge: EdgeSpec, names: Mapping[str, str]) -> str:
    ends = _("“%(before)s” before “%(after)s”") % {
        "before": names.get(edge.before, edge.before),
        "after": names.get(edge.after, edge.after),
    }
    if edge.when == "always":
        return ends
    words = _(CONDITION_WORDS.get(edge.when, edge.when))
    return _("%(ends)s (when: %(words)s)") % {"ends": ends, "words": words}


def _check_changes(old: RouteTemplate, new: RouteTemplate) -> Iterator[str]:
    before = {check.number: check for check in old.checks}
    after = {check.number: check for check in new.checks}
    for number, check in before.items():
        if number not in after:
            yield _("Check %(number)s “%(words)s” was taken out.") % {
                "number": number,
                "words": check.words,
            }
    for number, check in after.items():
        if number not in before:
            yield _("Check %(number)s “%(words)s” was added.") % {
                "number": number,
                "words": check.words,
            }
        else:
            yield from _changed(
                _("Check %(number)s") % {"number": number}, before[number], check, _CHECK_WORDS
            )


def _changed(
    owner: str,
    old: StageSpec | EdgeSpec | CheckSpec,
    new: StageSpec | EdgeSpec | CheckSpec,
    words: Mapping[str, str],
) -> Iterator[str]:
    for item in fields(new):
        one, other = getattr(old, item.name), getattr(new, item.name)
        if one != other:
            label = _(words.get(item.name, item.name))
            yield _("%(owner)s: %(label)s changed from %(one)s to %(other)s.") % {
                "owner": owner,
                "label": label,
                "one": _say(one),
                "other": _say(other),
            }


def _say(value: Any) -> str:
    """Say a stored value as a person reads it."""
    if value is None or value == "" or value == ():
        return _("nothing")
    if isinstance(value, bool):
        return _("yes") if value else _("no")
    if isinstance(value, float | int):
        return f"{value:g}"
    if isinstance(value, str):
        return f"“{value}”"
    if isinstance(value, Mapping):
        return "; ".join(_say_pair(key, part) for key, part in value.items()) or _("nothing")
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
