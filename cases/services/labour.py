"""Say what became of work that the program put down: it was right, it went on, it stopped then."""

from __future__ import annotations

from datetime import datetime
from typing import Any

from django.utils.timezone import localtime
from django.utils.translation import gettext as _

from cases.domain.words import N_
from cases.models import Case, Event, WorkSpan
from cases.selectors.labour import minutes_if_ended
from cases.services.access import changed_words, lock_case, lock_open_case
from cases.services.assign import enter_minutes
from cases.services.put_down import gone_home
from cases.services.record import Recorder, Refusal, verb
from cases.services.stage import in_hand_again, refuse_resume

TABLET_HAD_LOCKED = N_("the tablet had locked")


def _case_of(span: int) -> int:
    found = WorkSpan.objects.filter(pk=span).values_list("run__stage__case_id", flat=True).first()
    if found is None:
        raise Refusal("no-span", _("There is no such entry. Load the page again."))
    return found


def _to_check(record: Recorder, case: Case, span: int) -> WorkSpan:
    """Return one's own span, locked, that waits to be checked; its case is locked already."""
    row = (
        WorkSpan.objects.select_for_update(of=("self",))
        .select_related("run__stage__worker")
        .get(pk=span)
    )
    if row.person_id != record.actor.pk:
        raise Refusal("not-yours", _("These are somebody else's minutes. Ask the manager."))
    if not row.to_check:
        raise Refusal("nothing-to-check", _("These minutes were looked at already."))
    row.run.stage.case = case
    return row


@verb("time.confirm", may="work")
def confirm_time(record: Recorder, *, span: int) -> dict[str, Any]:
    """Say that the minutes of one's own span are right as they were measured.

    Raises
    ------
    Refusal
        ``no-span``, ``not-yours``, or ``nothing-to-check`` when nobody asks about it any more.
    """
    case = lock_case(_case_of(span))
    row = _to_check(record, case, span)
    record.event("time.confirmed", case=case, subject=row.run.stage.key)
    record.change(row, to_check=False)
    return {"span": row.pk}


def _by_a_lock(row: WorkSpan) -> datetime:
    """Return when a locking tablet ended the span."""
    if row.ended_how != "lock" or row.ended_at is None:
        raise Refusal("not-locked", _("No tablet put this down. Correct its minutes instead."))
    return row.ended_at


def _pause_of(row: WorkSpan) -> Event | None:
    """Return the entry that put the work down: the one that is corrected."""
    stage = row.run.stage
    paused = Event.objects.filter(case=stage.case, kind="stage.paused", subject=stage.key)
    return paused.order_by("-pk").first()


def _next_hands(row: WorkSpan, since: datetime) -> WorkSpan | None:
    """Return the hands that took the same run up again at an instant or later."""
    later = row.run.spans.select_related("person").filter(began_at__gte=since)
    return later.exclude(pk=row.pk).order_by("pk").first()


@verb("time.went-on", may="work")
def went_on(record: Recorder, *, spans: list[int]) -> dict[str, Any]:
    """Say that one worked on at what a locking tablet had put down: it runs on since then.

    A correcting entry: the minutes up to the lock stay as they are, new ones begin there.

    Raises
    ------
    Refusal
        ``nothing-to-check``, ``not-locked``, ``taken-up`` when somebody has had it since,
        ``shift-over`` when the work would go on past the end of one's shift, or what would
        refuse taking it up again. Nothing is stored then.
    """
    if not spans:
        raise Refusal("no-span", _("There is no such entry. Load the page again."))
    stages = []
    for case_id, span in sorted((_case_of(span), span) for span in set(spans)):
        case = lock_open_case(case_id)
        row = _to_check(record, case, span)
        stage, put_down_at = row.run.stage, _by_a_lock(row)
        if stage.state != "paused" or _next_hands(row, put_down_at) is not None:
            raise Refusal("taken-up", changed_words(case, stage))
        home = gone_home(record.actor, put_down_at, record.now)
        if home is not None:
            raise Refusal(
                "shift-over",
                _("Your hours ended at %(at)s. Say when you stopped instead.")
                % {"at": f"{localtime(home):%H:%M}"},
            )
        refuse_resume(record, case, stage)
        record.event(
            "stage.went-on", case=case, subject=stage.key, corrects=_pause_of(row), at=put_down_at
        )
        record.change(row, to_check=False)
        in_hand_again(record, case, stage, since=put_down_at)
        stages.append(stage.pk)
    return {"stages": stages}


@verb("time.stopped-at", may="work")
def stopped_at(record: Recorder, *, span: int, until: str) -> dict[str, Any]:
    """Say when one really stopped at what a locking tablet had put down; it stays put down.

    Both values stay: an earlier end is a correction beside the measured minutes, a later one a
    stretch of work of its own that begins at the lock.

    Parameters
    ----------
    until
        The instant, in ISO form.

    Raises
    ------
    Refusal
        ``nothing-to-check``, ``not-locked``, ``bad-time`` for an instant before the work began
        or after now, or ``taken-up`` when somebody had it by then.
    """
    case = lock_case(_case_of(span))
    row = _to_check(record, case, span)
    put_down_at, stopped = _by_a_lock(row), datetime.fromisoformat(until)
    if not row.began_at <= stopped <= record.now:
        raise Refusal(
            "bad-time",
            _("Enter a time between %(from)s, when it began, and now.")
            % {"from": f"{localtime(row.began_at):%H:%M}"},
            field="until",
        )
    _refuse_taken_up(row, put_down_at, stopped)
    record.event(
        "time.corrected",
        case=case,
        subject=row.run.stage.key,
        corrects=_pause_of(row),
        reason=TABLET_HAD_LOCKED,
        at=stopped,
    )
    if stopped > put_down_at:
        record.create(
            WorkSpan, run=row.run, person=record.actor, began_at=put_down_at, ended_at=stopped
        )
        record.change(row, to_check=False)
    else:
        enter_minutes(record, row, minutes_if_ended(row, stopped), TABLET_HAD_LOCKED)
    return {"span": row.pk}


def _refuse_taken_up(row: WorkSpan, put_down_at: datetime, stopped: datetime) -> None:
    later = _next_hands(row, put_down_at)
    over = row.run.ended_at
    if later is not None and stopped > later.began_at:
        raise Refusal(
            "taken-up",
            _("%(name)s took it up at %(at)s. Enter a time before that.")
            % {"name": later.person.name, "at": f"{localtime(later.began_at):%H:%M}"},
            field="until",
        )
    if over is not None and stopped > over:
        raise Refusal(
            "taken-up",
            _("It was over at %(at)s. Enter a time before that.")
            % {"at": f"{localtime(over):%H:%M}"},
            field="until",
        )
