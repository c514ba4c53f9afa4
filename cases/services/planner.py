"""The planner's turn: look whether anything happened, mend the plan, or improve it.

One turn at a time in the whole lab, by a lease in the row ``Planner``; whoever dies with it is
followed when it ends, and whoever comes back too late stores nothing. Nothing here is recorded: a
plan is reckoned anew from what is.
"""

from __future__ import annotations

import logging
import time
from collections.abc import Callable
from datetime import datetime, timedelta
from functools import cache
from threading import get_ident

from django.conf import settings
from django.db import DatabaseError, connection
from django.db.models import Q
from django.utils.translation import gettext as _

from cases.domain.planning import cpsat
from cases.domain.planning.compiled import engine
from cases.domain.planning.dispatch import best_of, try_rules
from cases.domain.planning.improve import search
from cases.domain.planning.score import Worth, to_plan
from cases.models import Event, Lab, Load, Plan, Planner
from cases.services.nudge import AT_MOST, QUIET, matters
from cases.services.plan_publish import publish, row
from cases.services.plan_remedies import advise
from cases.services.plan_think import Made, think

log = logging.getLogger(__name__)

STALE = timedelta(minutes=10)
"""After this the plan is made anew though nothing happened: time itself has passed."""
OVERRUN = timedelta(minutes=1)
"""A stage that still runs so long after its planned end upsets what comes next. Judgement."""
LEASE_MORE = timedelta(seconds=60)
"""How much longer than its budget a turn may take before another worker takes over."""
ADVISE_SOON = 3.0
"""For so many seconds what would save the late cases is asked before the search. Judgement."""
RULES_SECONDS = 1.0
"""How long rules are tried where the lab lets nothing be searched. Judgement."""
ASK_EVERY = 0.5
"""Seconds between two looks at whether to stop."""

Seconds = Callable[[], float]


@cache
def get_ready() -> bool:
    """Wait until this process can think in compiled code; say it once where it cannot."""
    if engine.wait():
        return True
    log.warning("thinking in plain Python: %s", engine.why_not())
    return False


def news(up_to: int, now: datetime) -> bool:
    """Tell whether something happened since event ``up_to`` that a plan depends on, and rests."""
    found = [
        received
        for kind, received in Event.objects.filter(pk__gt=up_to)
        .order_by()
        .values_list("kind", "received_at")
        if matters(kind)
    ]
    if not found:
        return False
    return now - max(found) >= QUIET or now - min(found) >= AT_MOST


def budget() -> float:
    """Return the seconds that one plan may be improved for."""
    return float(Lab.objects.values_list("plan_seconds", flat=True).first() or 0)


def _lease(now: datetime, seconds: float) -> datetime | None:
    """Take the turn; return until when, or None when somebody has it."""
    free = Q(busy_until__isnull=True) | Q(busy_until__lte=now)
    until = now + timedelta(seconds=seconds) + LEASE_MORE
    taken = Planner.objects.filter(free, pk=row().pk).update(
        busy_until=until, looked_at=now, improving_since=None
    )
    return until if taken else None


def turn(now: datetime, *, seconds: Seconds = time.monotonic) -> str:
    """Do what is to be done now; return ``busy``, ``mended``, ``improved``, ``advised`` or
    ``nothing``."""
    if not Lab.objects.filter(set_up_at__isnull=False).exists():
        return "nothing"
    allowed = budget()
    lease = _lease(now, allowed)
    if lease is None:
        return "busy"
    try:
        return _turn(now, allowed, seconds, lease)
    except Exception as error:
        Planner.objects.update(fault=_fault(error)[:400])
        raise
    finally:
        Planner.objects.filter(busy_until=lease).update(busy_until=None, improving_since=None)


def _fault(error: Exception) -> str:
    return _("The lab could not be planned: %(error)s The last plan stands.") % {
        "error": f"{type(error).__name__}: {error}".rstrip(".") + "."
    }


def _turn(now: datetime, allowed: float, seconds: Seconds, lease: datetime) -> str:
    newest = Plan.objects.first()
    if newest is None or news(newest.up_to_event, now) or _out_of_date(newest, now):
        mend(now, seconds=seconds, lease=lease)
        return "mended"
    if _something_new(newest.up_to_event):
        # It does not rest yet. An improvement begun now would know of it and not stop for it.
        return "nothing"
    if allowed and row().improved_for != newest.pk:
        # A lab where something happens all the time never has its whole search undisturbed.
        _ask(now, newest, min(ADVISE_SOON, allowed), seconds)
        improve(now, newest, allowed, seconds=seconds, lease=lease)
        return "improved"
    if allowed and not newest.asked:
        _ask(now, newest, allowed, seconds)
        Plan.objects.filter(pk=newest.pk).update(asked=True)
        return "advised"
    return "nothing"


def _out_of_date(plan: Plan, now: datetime) -> bool:
    """Tell whether time alone made a plan wrong: it is old, or work takes longer than it said.

    Nothing happens when work takes longer, so no event tells of it. Each plan gives such work some
    minutes more, and is made anew when these are over, too. A load that nobody takes out may wait
    for the morning: it makes a plan anew once, and then as time does.
    """
    late = plan.rows.filter(bath=None, stage__state="running", ends_at__lte=now - OVERRUN)
    left_in = Load.objects.filter(
        state="running", ends_at__gt=plan.made_at - OVERRUN, ends_at__lte=now - OVERRUN
    )
    return now - plan.made_at >= STALE or late.exists() or left_in.exists()


def _ask(now: datetime, newest: Plan, allowed: float, seconds: Seconds) -> None:
    """Ask what would save the late cases of a plan, until something new happens."""
    ends = seconds() + allowed
    advise(now, newest, lambda: seconds() >= ends or _something_new(newest.up_to_event))


def mend(
    now: datetime, *, seconds: Seconds = time.monotonic, lease: datetime | None = None
) -> Plan | None:
    """Plan from what is now, at once; improving comes after.

    Should the check refuse the last plan mended, the lab is planned by the rules from nothing.
    """
    began = seconds()
    made = think(now)
    if not budget():
        _held_against_rules(made, seconds)
    stored = publish(made, now, seconds=seconds() - began, lease=lease)
    if stored is None and made.how == "mend":
        stored = publish(think(now, anew=True), now, seconds=seconds() - began, lease=lease)
    return stored


def _held_against_rules(made: Made, seconds: Seconds) -> None:
    """Take the plan of a rule where it is less late than the one that was mended: a lab that
    searches for nothing has no other chance to be rid of an old order."""
    ends = seconds() + RULES_SECONDS
    found = best_of([made.best, *try_rules(made.shop, lambda: seconds() >= ends)])
    if found.worth[:2] < made.best.worth[:2]:
        made.best, made.how = found, "rules"
        made.plan = to_plan(made.shop, found.floor)


class _Budget:
    """How long an improvement may go on: its time, a person's word, and what happens meanwhile.

    The solver asks from a thread of its own; what that thread opens it closes.
    """

    def __init__(self, seconds: Seconds, allowed: float, up_to: int, first: Worth) -> None:
        self.seconds, self.allowed, self.up_to = seconds, allowed, up_to
        self.began = self.asked = seconds()
        self.best, self.over, self.thread = first, False, get_ident()

    def better(self, worth: Worth) -> None:
        """Note what the best plan is worth by now."""
        self.best = min(self.best, worth)

    def stop(self) -> bool:
        """Tell whether it is over."""
        at = self.seconds()
        if self.over or at - self.began >= self.allowed:
            return True
        if at - self.asked >= ASK_EVERY:
            self.asked = at
            self.over = self._look(at)
        return self.over

    def _look(self, at: float) -> bool:
        try:
            self.tell(at)
            return row().stop_asked or _something_new(self.up_to)
        except DatabaseError:
            log.exception("nobody can be asked whether to go on: the best plan so far is kept")
            return True
        finally:
            if get_ident() != self.thread:
                connection.close()

    def tell(self, at: float) -> None:
        """Say how far it is."""
        Planner.objects.update(spent_seconds=round(at - self.began, 1), best_lateness=self.best[1])


def improve(
    now: datetime,
    newest: Plan,
    allowed: float,
    *,
    seconds: Seconds = time.monotonic,
    lease: datetime | None = None,
) -> Plan | None:
    """Search for a better plan until the budget is used up, somebody stops it, or something
    happens; publish the best so far where it is better than what stands."""
    made = think(now)
    first = made.best.worth
    Planner.objects.update(
        improving_since=now,
        stop_asked=False,
        first_lateness=first[1],
        best_lateness=first[1],
        spent_seconds=0,
    )
    # What came since the plan that stands has no plan yet: that does not wait for a better one.
    left = _Budget(seconds, allowed, min(made.up_to, newest.up_to_event), first)
    tried = [made.best, *try_rules(made.shop, left.stop)]
    made.best = search(
        made.shop, tried, stop=left.stop, number=made.up_to, workers=settings.PLAN_THREADS,
        progress=left.better,
    )  # fmt: skip
    made.plan = to_plan(made.shop, made.best.floor)
    made.how = "search" if cpsat.available() else "local"
    left.better(made.best.worth)
    spent = seconds() - left.began
    left.tell(left.began + spent)
    stored = None
    if made.best.worth < first:
        stored = publish(made, now, seconds=spent, lease=lease)
    Planner.objects.update(improved_for=(stored or newest).pk)
    return stored


def _something_new(up_to: int) -> bool:
    kinds = Event.objects.filter(pk__gt=up_to).order_by().values_list("kind", flat=True)
    return any(map(matters, kinds))


def ask_to_stop() -> bool:
    """End the improvement that runs, the best so far is kept; return whether one ran."""
    return bool(Planner.objects.filter(improving_since__isnull=False).update(stop_asked=True))
