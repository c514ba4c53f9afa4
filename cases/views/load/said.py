"""What the record of a bath said, and what somebody decided about it, in words and a shape."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date
from typing import Any

from django.utils.formats import date_format
from django.utils.translation import gettext as _

from cases.domain.cure.verdict import VERDICT_WORDS
from cases.models import BathRecord, Load
from cases.services.bath_decision import DECISIONS
from cases.services.cut import words_of

TAGS = {"complete": "done", "doubtful": "held", "repeat": "failed"}


@dataclass(frozen=True)
class Said:
    """One record of a load: its verdict in a word with its shape, and the decision.

    Attributes
    ----------
    decision, who
        What is done about it, and who decided; empty while nobody has. Who decided after a power
        cut by this record has decided about it.
    waits
        The verdict asks for a decision and there is none.
    """

    record: BathRecord
    words: str
    tag: str
    decision: str
    who: str
    waits: bool


def said_of(record: BathRecord) -> Said:
    """Put a record of ``selectors.loads.records`` into words."""
    verdict: str = record.said  # type: ignore[attr-defined]
    decision, who = _decision(record)
    waits = not decision and verdict != "complete"
    return Said(record, _(VERDICT_WORDS[verdict]), TAGS[verdict], decision, who, waits)


def _decision(record: Any) -> tuple[str, str]:
    if record.decision:
        return _(DECISIONS[record.decision]), record.decided_by.name
    if record.cut_decision:
        return _(words_of(record.cut_decision, record.cut_hold)), record.cut_by
    return "", ""


def newest_of(load: Load) -> Said | None:
    """Return what the record of a load that was read last says; None where none was read."""
    rows = list(load.records.all())
    return said_of(rows[0]) if rows else None


def probe_words(probe: Mapping[str, Any]) -> str:
    """Say what the check of a probe told of it, and what was done with that; empty without one."""
    if not probe["checked_on"]:
        return ""
    high = float(probe["reads_high_k"])
    if not high:
        words = _("checked on %(day)s, it reads right")
    elif high > 0:
        words = _("checked on %(day)s, it reads %(kelvin)g °C too high, which is taken off")
    else:
        words = _("checked on %(day)s, it reads %(kelvin)g °C too low, which is added")
    day = date_format(date.fromisoformat(probe["checked_on"]), "j F Y")
    return words % {"day": day, "kelvin": round(abs(high), 2)}
