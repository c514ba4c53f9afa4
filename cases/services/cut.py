"""One decision after a power cut, for all loads that were in a bath and all their cases.

Locks: the loads by number, then all their cases by primary key, then their rows.
"""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime, timedelta
from math import isfinite
from typing import Any, Final

from django.utils.translation import gettext as _
from django.utils.translation import gettext_noop

from cases.models import Case, CutLoad, Load, LoadFlask, PowerCut
from cases.selectors.concerned import in_bath_since
from cases.selectors.cuts import Span, decided_before, loads_then
from cases.selectors.loads import as_run
from cases.services.access import lock_case
from cases.services.cure_again import BACK_TO, back, empty, on_each_case, tell_late
from cases.services.cut_finding import Finding, finding
from cases.services.entered import instant
from cases.services.load import lock_load, refuse_student
from cases.services.load_longer import checked_minutes, hot_from, move_end, refuse_longer
from cases.services.record import Recorder, Refusal, verb
from cases.services.when import when

CHOICES: Final[dict[str, str]] = {
    "as-is": gettext_noop("Leave it as it is"),
    "longer": gettext_noop("Resume it and hold the stage longer"),
    "repeat": gettext_noop("Resume it and do the stage again whole"),
    "again": gettext_noop("Repeat the cure: the flasks go into a bath again"),
    "scrap": gettext_noop("Scrap the resin and pack anew"),
}
OUT_CHOICES: Final[dict[str, str]] = {
    "as-is": gettext_noop("Leave it as it is, and inspect closely at deflasking"),
    "again": CHOICES["again"],
    "scrap": CHOICES["scrap"],
}
"""What may be decided about a load in its bath, and about one that has left it."""
BACK: Final = {"again": BACK_TO["repeat"], "scrap": BACK_TO["scrap"]}
"""To which stage a case goes back, by what was decided."""
REASON: Final = "cure-cut"
KINDS: Final = ("load.cut-decided", "load.cut-came-late")
OLDEST = timedelta(days=7)
"""A cut so long ago is looked into case by case. Judgement."""
COLDEST_C, HOTTEST_C = 0.0, 105.0
"""What a thermometer in a water bath can say."""


@verb("cut.decide", may="countersign")
def decide_cut(
    record: Recorder,
    *,
    loads: list[dict[str, Any]],
    words: str,
    off_at: str = "",
    on_at: str = "",
    tell: bool = True,
) -> dict[str, Any]:
    """Decide what is done after a power cut, once, for all loads that were in a bath then.

    Parameters
    ----------
    loads
        One entry a load: ``load``, ``version``, ``stage`` (that the page spoke of), ``decision``,
        and where known ``found_c``, ``minutes``, ``hot_at`` (ISO).
    off_at, on_at
        When the power went and came back (ISO, the lab's time where no zone is said); one of them
        at least.
    tell
        Write to the practices whose cases cannot leave as promised any more.

    Raises
    ------
    Refusal
        ``may-not-decide``, ``no-time``, ``bad-time``, ``no-reason``, ``other-loads``,
        ``load-changed``, ``decided``, ``no-decision``, ``not-offered``, ``bad-temperature``, and
        what holding a load longer refuses; its ``field`` ends in the load's number. Nothing is
        moved then.
    """
    refuse_student(record)
    span = span_of(off_at, on_at, record.now)
    if not words.strip():
        raise Refusal("no-reason", _("Say why, in a few words."), field="words")
    entries = {int(one["load"]): one for one in loads}
    rows = [lock_load(number, entries[number]["version"]) for number in sorted(entries)]
    _all_of_them(span, rows)
    for row in rows:
        _not_twice(row, span)
    flasks = {row.pk: in_bath_since(row, span.since) for row in rows}
    for case_id in sorted({one.case_id for group in flasks.values() for one in group}):
        lock_case(case_id)
    record.event("cut.decided", subject=", ".join(f"load {row.number}" for row in rows)[:60])
    cut = record.create(
        PowerCut, off_at=span.off_at, on_at=span.on_at, words=words.strip()[:400],
        by=record.actor, at=record.now,
    )  # fmt: skip
    delayed: list[Case] = []
    for row in rows:
        delayed += _decide_one(record, cut, row, flasks[row.pk], span, entries[row.number])
    text = _("The work was delayed by a power cut. A new date follows.")
    told = tell_late(record, delayed, text) if tell else []
    return {"cut": cut.pk, "told": told}


def span_of(off_at: str, on_at: str, now: datetime) -> Span:
    """Return a time without power as somebody entered it.

    Raises
    ------
    Refusal
        ``no-time``, ``bad-time``.
    """
    off = instant(off_at, "off_at") if off_at.strip() else None
    on = instant(on_at, "on_at") if on_at.strip() else None
    if off is None and on is None:
        raise Refusal(
            "no-time",
            _("Enter when the power went, or when it was back; one of the two at least."),
            field="off_at",
        )
    for at, field in ((off, "off_at"), (on, "on_at")):
        if at is not None and at > now:
            raise Refusal("bad-time", _("That has not been yet."), field=field)
        if at is not None and at < now - OLDEST:
            raise Refusal(
                "bad-time",
                _("That is more than a week ago. Decide case by case, on their pages."),
                field=field,
            )
    if off is not None and on is not None and on <= off:
        raise Refusal("bad-time", _("The power was back after it went."), field="on_at")
    return Span(off, on, now)


def _all_of_them(span: Span, rows: Sequence[Load]) -> None:
    """Refuse a decision that leaves a load out, or takes in one that was in no bath then."""
    then = {row.number for row in loads_then(span)}
    here = {row.number for row in rows}
    if not then:
        raise Refusal("other-loads", _("No load was in a bath then."), field="off_at")
    if then != here:
        numbers = ", ".join(str(number) for number in sorted(then))
        raise Refusal(
            "other-loads",
            _("In a bath then were the loads %(numbers)s. Look at the page again.")
            % {"numbers": numbers},
            field="off_at",
        )


def _not_twice(load: Load, span: Span) -> None:
    before = decided_before(load, span)
    if before is not None:
        raise Refusal(
            "decided",
            _("%(who)s decided about load %(number)d for this power cut already, on %(at)s.")
            % {
                "who": before.cut.by.name,
                "number": load.number,
                "at": when(before.cut.at),
            },
            field="off_at",
        )


def _decide_one(
    record: Recorder,
    cut: PowerCut,
    load: Load,
    flasks: Sequence[LoadFlask],
    span: Span,
    entry: dict[str, Any],
) -> list[Case]:
    """Do what was decided about one load; return the cases whose work it delays."""
    number, decision = load.number, str(entry.get("decision") or "")
    found_c = _found_c(entry.get("found_c"), number)
    found = finding(load, span, found_c)
    if decision not in CHOICES:
        raise Refusal("no-decision", _("Choose what is to be done."), field=f"decision-{number}")
    if int(entry["stage"]) != found.stage:
        raise Refusal(
            "load-changed",
            _("Load %(number)d has come to another stage meanwhile. Look at the page again.")
            % {"number": number},
        )
    _refuse_not_offered(load, found, decision)
    hold, hot_at = _hold(record, load, found, decision, entry)
    record.event("cut.load-decided", subject=f"load {number}", decision=decision)
    record.create(
        CutLoad, cut=cut, load=load, found_c=found_c, record=found.record, says=found.as_json(),
        stage=found.stage, decision="repeat" if decision == "again" else decision,
        hold_minutes=hold, hot_at=hot_at,
    )  # fmt: skip
    if decision in BACK and load.state == "running":
        empty(record, load)
    elif hold is None:
        record.change(load, version=load.version + 1)
    shut = on_each_case(
        record, flasks, KINDS, cut.words, load=number, decision=decision, cut=cut.pk
    ).shut
    if hold is not None and hot_at is not None:
        until = hot_at + timedelta(minutes=hold)
        field = f"minutes-{number}"
        move_end(record, load, found.stage, until, "cut", cut.words, because=cut, field=field)
    elif decision in BACK:
        for case in shut:
            back(record, case, BACK[decision], REASON, cut.words)
    return [] if decision == "as-is" else shut


def words_of(decision: str, hold_minutes: float | None) -> str:
    """Return what was decided about a load as a sentence to be translated.

    A stage is done again whole where it is held; a cure is repeated where nothing is.
    """
    again = decision == "repeat" and hold_minutes is None
    return {**OUT_CHOICES, **CHOICES}["again" if again else decision]


def _found_c(value: Any, number: int) -> float | None:
    if value is None or value == "":
        return None
    celsius = float(value)
    if not (isfinite(celsius) and COLDEST_C <= celsius <= HOTTEST_C):
        raise Refusal(
            "bad-temperature",
            _("A water bath is at %(low)d to %(high)d °C.") % {"low": COLDEST_C, "high": HOTTEST_C},
            field=f"found-{number}",
        )
    return celsius


def _refuse_not_offered(load: Load, found: Finding, decision: str) -> None:
    if decision in found.offers:
        return
    field = f"decision-{load.number}"
    if decision == "longer" and load.state == "running" and found.source not in {"before", "after"}:
        refuse_longer(load, as_run(load), found.stage, field)
    raise Refusal(
        "not-offered",
        _("That cannot be done with load %(number)d. Choose something else.")
        % {"number": load.number},
        field=field,
    )


def _hold(
    record: Recorder, load: Load, found: Finding, decision: str, entry: dict[str, Any]
) -> tuple[float | None, datetime | None]:
    """Return how long the stage is still held, and from when on; nothing where it is not."""
    if load.state != "running" or decision not in {"longer", "repeat"}:
        return None, None
    number = load.number
    hot_at = hot_from(record, str(entry.get("hot_at") or ""), f"hot-{number}")
    if decision == "repeat":
        # Whole is whole: as long as the maker states, with no minute taken off.
        stated: float = load.program.document["stages"][found.stage]["minutes"]
        return stated, hot_at
    minutes = entry.get("minutes")
    wanted = found.minutes if minutes is None else float(minutes)
    if wanted is None:
        raise Refusal("bad-minutes", _("Enter the minutes."), field=f"minutes-{number}")
    return checked_minutes(wanted, f"minutes-{number}"), hot_at
