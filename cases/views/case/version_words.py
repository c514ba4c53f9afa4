"""The versions of a design in words: how each stands, who drew it, what was passed in it."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass

from django.utils.translation import gettext as _
from django.utils.translation import gettext_noop

from cases.domain.toothwords import labels
from cases.models import Design as Row
from cases.selectors.design_versions import Conceded

ASKED_BY_WORDS = {
    "lab": gettext_noop("the bench"),
    "practice": gettext_noop("the practice"),
}


@dataclass(frozen=True)
class VersionLine:
    """A version in the list of a case: its number, how it stands, who and why.

    ``standing``: the finished stages that it put in question and left standing, each with why.
    """

    number: int
    state: str
    kind: str
    who: str
    row: Row
    standing: list[str]


@dataclass(frozen=True)
class ConcededLine:
    """A concession of a design in words."""

    rule: str
    subject: str
    sentence: str
    reason: str
    by: str
    versions: str


def state_of(row: Row, present: int) -> tuple[str, str]:
    """Return how a version stands, as the shape of a tag and its words."""
    if row.data["provisional"]:
        return "", _("expected, not drawn")
    if row.data["draft"]:
        return "held", _("draft")
    return ("running", _("in force")) if row.version == present else ("", _("earlier version"))


def drawn_by(row: Row) -> str:
    """Say who drew a version; nobody draws what is only expected of the order."""
    if row.by is None or row.data["provisional"]:
        return _("from the order")
    return row.by.name


def standing_lines(row: Row, names: Mapping[str, str]) -> list[str]:
    """Say which finished stages a version left standing, and why; ``names`` of the stages."""
    return [
        _("“%(stage)s” was left standing: %(why)s") % {"stage": _(names.get(key, key)), "why": why}
        for key, why in row.standing.items()
    ]


def version_lines(rows: Iterable[Row], present: int, names: Mapping[str, str]) -> list[VersionLine]:
    """Return the versions of a design, newest first."""
    found = []
    for row in rows:
        kind, words = state_of(row, present)
        found.append(
            VersionLine(row.version, words, kind, drawn_by(row), row, standing_lines(row, names))
        )
    return found[::-1]


def conceded_lines(
    found: Iterable[Conceded], notation: str, milk: Collection[int]
) -> list[ConcededLine]:
    """Say what was passed, by whom, and in which versions; places in ``milk`` as milk teeth."""
    label = labels(notation, milk)
    return [
        ConcededLine(
            rule=one.concession.rule,
            subject=one.concession.subject,
            sentence=one.sentence(label),
            reason=one.concession.reason,
            by=one.by,
            versions=", ".join(str(number) for number in one.versions),
        )
        for one in found
    ]


def wished_by(row: Row) -> str:
    """Say who wished the change; empty where nothing drawn was changed."""
    return _(ASKED_BY_WORDS[row.asked_by]) if row.asked_by in ASKED_BY_WORDS else ""
