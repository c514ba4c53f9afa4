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
MOST_SINGLE = 3
"""So many banners leave room for the work on a tablet. Judgement."""


@dataclass(frozen=True)
class Alarm:
    """One thing that somebody must hear of.

    ``alert`` is None while no clock has fired it; ``late``: nobody told it in time, because the
    clock had stood still.
    """

    timer: Timer
    alert: Alert | None
    late: bool = False


def open_alarms(now: datetime) -> list[Alarm]:
    """Return the alerts nobody has acknowledged and the due timers nobody has fired.

    Oldest instant first; two queries.
    """
    alerts = Alert.objects.filter(acknowledged_at__isnull=True).select_related(
        "timer__case__design", "timer__stage", "timer__load__bath", "timer__load__program"
    )[:MOST]
    unfired = Timer.objects.filter(state="pending", due_at__lte=now - GRACE).select_related(
        "case__design", "stage", "load__bath", "load__program"
    )[:MOST]
    found = [
        Alarm(alert.timer, alert, alert.raised_at - alert.timer.due_at >= LATE) for alert in alerts
    ]
    found += [Alarm(timer, None, now - timer.due_at >= LATE) for timer in unfired]
    return sorted(found, key=lambda alarm: (alarm.timer.due_at, alarm.timer.pk))


def folded(alarms: list[Alarm]) -> tuple[list[Alarm], list[Alarm], list[Alarm]]:
    """Part what is told one by one from what is told in a sentence.

    Returns
    -------
    (list, list, list)
        The single alarms; what a standstill left behind (none, or two and more); and those
        beyond what a banner has room for.
    """
    behind = [alarm for alarm in alarms if alarm.late]
    if len(behind) < 2:
        behind = []
    single = [alarm for alarm in alarms if not behind or not alarm.late]
    if len(single) <= MOST_SINGLE:
        return single, behind, []
    return single[: MOST_SINGLE - 1], behind, single[MOST_SINGLE - 1 :]
