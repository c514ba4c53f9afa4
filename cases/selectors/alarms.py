"""What is alarming now, from the rows and the instant: a dead clock changes nothing here."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime, timedelta

from cases.models import Alert, Timer

GRACE = timedelta(seconds=45)
"""A timer that is due is the clock's for so long (three sweeps); after that the page itself
says that the wait is over. Judgement."""

LATE = timedelta(minutes=10)
"""An alert raised so long after its instant came from a standstill. Judgement."""

MOST = 50


@dataclass(frozen=True)
class Alarm:
    """One thing that somebody must hear of. ``alert`` is None while no clock has fired it."""

    timer: Timer
    alert: Alert | None

    @property
    def late(self) -> bool:
        """Whether it was raised long after its instant, by a clock that had stood still."""
        return self.alert is not None and self.alert.raised_at - self.timer.due_at >= LATE


def open_alarms(now: datetime) -> list[Alarm]:
    """Return the alerts nobody has acknowledged and the due timers nobody has fired.

    Oldest instant first; two queries.
    """
    alerts = Alert.objects.filter(acknowledged_at__isnull=True).select_related(
        "timer__case", "timer__stage"
    )[:MOST]
    unfired = Timer.objects.filter(state="pending", due_at__lte=now - GRACE).select_related(
        "case", "stage"
    )[:MOST]
    found = [Alarm(alert.timer, alert) for alert in alerts]
    found += [Alarm(timer, None) for timer in unfired]
    return sorted(found, key=lambda alarm: (alarm.timer.due_at, alarm.timer.pk))


def folded(alarms: list[Alarm]) -> tuple[list[Alarm], list[Alarm]]:
    """Part what must be told one by one from what a standstill left behind.

    Returns
    -------
    (list, list)
        The single alarms, and those to be told in one sentence (none, or two and more).
    """
    behind = [alarm for alarm in alarms if alarm.late]
    if len(behind) < 2:
        return alarms, []
    return [alarm for alarm in alarms if not alarm.late], behind
