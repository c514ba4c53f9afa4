"""The history of a case: its events, newest first, with the rows that their words stand in."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field
from datetime import datetime

from django.core.paginator import Page, Paginator
from django.db.models import Model

from cases.models import (
    Case,
    CheckItem,
    CheckResult,
    Concession,
    Design,
    Event,
    File,
    Hold,
    Mishap,
    Note,
    Paper,
    Person,
    Promise,
    Question,
    SendBack,
)

PAGE_SIZE = 50

SPOKEN: dict[str, type[Model]] = {
    model.__name__: model
    for model in (
        CheckResult, Concession, Design, File, Hold, Mishap, Note, Paper, Promise, Question,
        SendBack,
    )
}  # fmt: skip
"""Models whose rows an event names by key because their words are not in the event itself."""


@dataclass(frozen=True)
class Drawn:
    """A version of the design: since when it stood, whether it was only expected, and the places
    of its milk teeth."""

    version: int
    since: datetime
    provisional: bool
    milk: frozenset[int]


@dataclass(frozen=True)
class History:
    """One page of events.

    ``rows`` holds the rows that the events set, by model name and primary key; ``stages`` the
    names of the case's stages by key, ``checks`` its checks by key, ``people`` names by
    primary key; ``designs`` the versions of the design, oldest first; ``notation`` the tooth
    numbering of who reads it.
    """

    page: Page[Event]
    stages: dict[str, str]
    checks: dict[str, CheckItem]
    people: dict[int, str]
    rows: dict[str, dict[int, Model]] = field(default_factory=dict)
    designs: tuple[Drawn, ...] = ()
    notation: str = "fdi"

    def standing(self, event: Event) -> Drawn | None:
        """Return the version of the design that stood when an event happened, if any."""
        before = [one for one in self.designs if one.since <= event.happened_at]
        return before[-1] if before else None

    def milk(self, event: Event) -> frozenset[int]:
        """Return the places at which a milk tooth stood when an event happened."""
        then = self.standing(event)
        return then.milk if then is not None else frozenset()

    def row(self, event: Event, model: str) -> Model | None:
        """Return the row of ``model`` that an event made or changed, if any."""
        for change in event.changes:
            if change["m"] == model:
                return self.rows.get(model, {}).get(change["pk"])
        return None


def _named(events: Iterable[Event]) -> dict[str, set[int]]:
    found: dict[str, set[int]] = {name: set() for name in SPOKEN}
    for event in events:
        for change in event.changes:
            if change["m"] in found:
                found[change["m"]].add(change["pk"])
    return found


def history(case: Case, *, page: int = 1) -> History:
    """Return a page of the case's events, newest first.

    The number of queries does not depend on the number of events: two for the page, one for
    each kind of row that is spoken of, three for the names, one for the versions of the design.
    """
    events = case.events.select_related("by").order_by("-pk")
    shown = Paginator(events, PAGE_SIZE).get_page(page)
    keys = _named(shown.object_list)
    rows = {name: SPOKEN[name]._default_manager.in_bulk(pks) for name, pks in keys.items() if pks}
    people = Person.objects.values_list("pk", "name")
    checks = CheckItem.objects.filter(case=case)
    return History(
        page=shown,
        stages=dict(case.stages.values_list("key", "name")),
        checks={item.key: item for item in checks},
        people=dict(people),
        rows=rows,
        designs=tuple(
            Drawn(version, made_at, provisional, frozenset(milk or ()))
            for version, made_at, provisional, milk in case.designs.values_list(
                "version", "made_at", "data__provisional", "data__primary"
            )
        ),
    )
