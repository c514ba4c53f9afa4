"""Undo and redo of the design's entries, carried by the form itself: nothing is kept for them.

A trail is what the entries were last, and the steps away from there: each step holds only the
entries that changed, as they were before it.
"""

from __future__ import annotations

import json
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from typing import Any

from django import forms

MOST_STEPS = 30
MOST_LETTERS = 100_000
"""A longer trail was not made by this page."""

Entries = dict[str, list[str]]
# What is no entry of the design: how the page looks, what a press says, the seal of the form.
BESIDE = frozenset(
    {
        "csrfmiddlewaretoken", "submission", "submission_id", "version", "trail", "touch", "tool",
        "in_hand", "step", "notation", "show_in", "reason", "asked_by",
    }
)  # fmt: skip


def entries_of(data: Mapping[str, Any]) -> Entries:
    """Return the entries of a sent form that belong to the design; an empty one is none."""
    get = getattr(data, "getlist", None)
    read = get or (lambda name: data[name])
    return _filled({name: read(name) for name in data if _belongs(name)})


def shown_by(form: forms.Form) -> Entries:
    """Return the entries that a browser will send of a form that nobody touches."""
    return _filled({field.html_name: _sent(field) for field in form if _belongs(field.html_name)})


def _sent(field: forms.BoundField) -> Any:
    """Return what a browser sends of a field; of a list without an empty line the first choice."""
    value = field.value()
    if value in (None, "") and type(field.field.widget) is forms.Select:
        return next((key for key, _words in field.field.widget.choices), "")
    return value


def _belongs(name: str) -> bool:
    return name not in BESIDE and not name.startswith(("becomes_", "why_"))


def _filled(table: Mapping[str, Any]) -> Entries:
    found: Entries = {}
    for name, value in table.items():
        values = value if isinstance(value, list | tuple) else [value]
        # 0 is an entry, and no False.
        given = [one for one in values if one is not None and one is not False and one != ""]
        said = ["on" if one is True else str(one) for one in given]
        if said:
            found[name] = said
    return found


def _delta(old: Entries, new: Entries) -> Entries:
    """What has to be put back over ``new`` to have ``old`` again; [] where there was nothing."""
    return {
        name: old.get(name, [])
        for name in old.keys() | new.keys()
        if old.get(name) != new.get(name)
    }


def _put(entries: Entries, delta: Entries) -> Entries:
    return {name: values for name, values in (entries | delta).items() if values}


@dataclass
class Trail:
    """What the entries were last (``was``), the steps that can be taken back, and those taken."""

    was: Entries = field(default_factory=dict)
    back: list[Entries] = field(default_factory=list)
    forth: list[Entries] = field(default_factory=list)

    @classmethod
    def read(cls, text: str) -> Trail:
        """Read what the form carried; what cannot be read is an empty trail."""
        if not text or len(text) > MOST_LETTERS:
            return cls()
        try:
            was, back, forth = json.loads(text)
            known = [dict(step) for step in (was, *back, *forth)]
        except (ValueError, TypeError):
            return cls()
        if not all(isinstance(v, list) for step in known for v in step.values()):
            return cls()
        return cls(dict(was), [dict(s) for s in back], [dict(s) for s in forth])

    def write(self) -> str:
        """Write it for the form to carry."""
        return json.dumps([self.was, self.back, self.forth], separators=(",", ":"))

    def note(self, entries: Entries) -> None:
        """Keep a step where the entries differ from what they were last."""
        if self.was and _delta(self.was, entries):
            self.back = [*self.back, _delta(self.was, entries)][-MOST_STEPS:]
            self.forth = []
        self.was = entries

    def shows(self, entries: Entries) -> None:
        """Take in what the page shows in the end: what the next press is compared with.

        Other clasps and faces have other entries; what a step took off the page comes back with
        the step.
        """
        for steps in (self.back, self.forth):
            if steps:
                steps[-1] = _delta(_put(self.was, steps[-1]), entries)
        self.was = entries

    def undo(self) -> Entries:
        """Take the last step back and return the entries; unchanged where there is none."""
        return self._step(self.back, self.forth)

    def redo(self) -> Entries:
        """Take a step again and return the entries; unchanged where there is none."""
        return self._step(self.forth, self.back)

    def rewrite(self, write: Callable[[Entries], Entries]) -> None:
        """Write every state that can be stepped to in another way, and keep the steps between.

        Steps are differences of what was written, so each state is put together, written anew and
        taken apart again.
        """
        now = write(self.was)
        for steps in (self.back, self.forth):
            # Nearest first: the last of each list is one step away.
            state, shown = self.was, now
            for place in reversed(range(len(steps))):
                state = _put(state, steps[place])
                before, shown = shown, write(state)
                steps[place] = _delta(shown, before)
        self.was = now

    def _step(self, source: list[Entries], other: list[Entries]) -> Entries:
        if source:
            before = self.was
            self.was = _put(before, source.pop())
            other.append(_delta(before, self.was))
        return self.was
