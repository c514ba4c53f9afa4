"""Rebuild the present state from the events and compare it with what is stored."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from functools import cache
from typing import Any

from django.apps import apps
from django.db import models

from cases.models import Event
from cases.models.columns import COLUMNS
from cases.services.record import cell, event_digest, plain

State = dict[tuple[str, Any], dict[str, Any]]


@dataclass(frozen=True)
class Difference:
    """One place where the record and the stored state disagree."""

    model: str
    pk: Any
    column: str
    recorded: Any
    stored: Any

    def __str__(self) -> str:
        return (
            f"{self.model} {self.pk} {self.column}: the record says {self.recorded!r}, "
            f"stored is {self.stored!r}"
        )


def rebuild(events: Iterator[Event] | models.QuerySet[Event]) -> State:
    """Return every recorded cell as the events leave it, keyed by (model, pk)."""
    return replay({}, events)


def replay(state: State, events: Iterable[Event]) -> State:
    """Apply further events to ``state`` (changed in place) and return it."""
    for event in events:
        for change in event.changes:
            key = (change["m"], change["pk"])
            if change.get("gone"):
                state.pop(key, None)
            else:
                state.setdefault(key, {}).update(change["set"])
    return state


def _compare_row(obj: models.Model, cells: dict[str, Any] | None) -> Iterator[Difference]:
    name = type(obj).__name__
    listed = COLUMNS[name]
    pk = plain(obj.pk)
    if cells is None:
        yield Difference(name, pk, "(row)", None, "a row that no event made")
        return
    for column in (*listed.recorded, *listed.private):
        stored = cell(obj, column)
        # A column younger than the row stands in no event: the migration gave it its default.
        recorded = cells[column] if column in cells else _default(type(obj), column)
        if recorded != stored:
            yield Difference(name, pk, column, recorded, stored)


@cache
def _default(model: type[models.Model], column: str) -> Any:
    """Return the cell of a column that nobody ever set."""
    return cell(model(), column)


def _compare_model(model: type[models.Model], state: State) -> Iterator[Difference]:
    name = model.__name__
    expected = {pk: cells for (owner, pk), cells in state.items() if owner == name}
    for obj in model._default_manager.order_by("pk").iterator(chunk_size=2000):
        yield from _compare_row(obj, expected.pop(plain(obj.pk), None))
    for pk in expected:
        yield Difference(name, pk, "(row)", "a row", None)


def compare_rows(state: State, keys: set[tuple[str, Any]]) -> list[Difference]:
    """Return where the rows named by (model, pk) differ from a rebuilt state."""
    differences: list[Difference] = []
    for name in sorted({name for name, _ in keys}):
        model = apps.get_model("cases", name)
        wanted = {pk for owner, pk in keys if owner == name}
        for obj in model._default_manager.filter(pk__in=wanted).order_by("pk"):
            pk = plain(obj.pk)
            wanted.discard(pk)
            differences.extend(_compare_row(obj, state.get((name, pk))))
        differences.extend(
            Difference(name, pk, "(row)", "a row", None) for pk in wanted if (name, pk) in state
        )
    return differences


def verify_record() -> list[Difference]:
    """Return every difference between the record and the stored state; empty is sound."""
    differences = [
        Difference("Event", event.pk, "digest", event.digest, event_digest(event))
        for event in Event.objects.order_by("pk").iterator(chunk_size=2000)
        if event.digest != event_digest(event)
    ]
    state = rebuild(Event.objects.order_by("pk").iterator(chunk_size=2000))
    return differences + compare(state)


def compare(state: State) -> list[Difference]:
    """Return where the stored rows differ from a rebuilt state."""
    differences: list[Difference] = []
    for model in apps.get_app_config("cases").get_models():
        listed = COLUMNS[model.__name__]
        if listed.recorded or listed.private:
            differences.extend(_compare_model(model, state))
    return differences
