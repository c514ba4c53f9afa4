"""A flask stays in its bath, and then shut, as long as its load says so.

A route has waits for this on its edges, but a lab may lead its edges otherwise, or leave a stage
out. An opened hot flask burns hands and warps the piece, so the load itself is asked.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Any, Final

from django.db.models import Exists, F, OuterRef, Q, Subquery
from django.utils.translation import gettext as _

from cases.domain.cure.program import read_program
from cases.models import Case, CaseStage, Event, LoadFlask
from cases.services.record import Refusal
from cases.services.when import when

CURE: Final = "cure"
COOL, OPEN = "cool", "deflask"
CONCEDED: Final = "wait.shortened"
SAME: Final = timedelta(seconds=1)


@dataclass(frozen=True, slots=True)
class Shut:
    """Why a flask is left alone.

    Attributes
    ----------
    until
        When that is over; None where somebody has to take the load out first.
    """

    code: str
    words: str
    until: datetime | None = None


def refuse_shut(case: Case, stage: CaseStage, now: datetime) -> None:
    """Raise Refusal where ``why_shut`` says why."""
    why = why_shut(case, stage, now)
    if why is not None:
        raise Refusal(why.code, why.words, until=why.until)


def why_shut(case: Case, stage: CaseStage, now: datetime) -> Shut | None:
    """Say why a flask is not to be taken out, or opened, yet; None where nothing forbids it.

    One query, and none for a stage other than *cool* and *deflask*. What somebody conceded with a
    reason since the flask was put in is no longer forbidden. A cooling that is done tells that the
    flask left the bath, where the program was over by then or leaving early was conceded.

    Returns
    -------
    Shut | None
        ``waiting`` while the program runs or the flask is hot, ``in-bath`` where the load was not
        taken out.
    """
    held = _held(case) if stage.key in {COOL, OPEN} else None
    if held is None:
        return None
    runs = now + SAME < held.ends
    if stage.key == COOL:
        shut_in = held.left_at is None and runs and not held.conceded_cool
        return _runs(held) if shut_in else None
    if held.conceded_open:
        return None
    if held.left_at is None and not (held.cooled_at and held.conceded_cool):
        return _runs(held) if runs else _in_bath(held)
    opens = held.opens
    return _hot(held, opens) if now + SAME < opens else None


@dataclass(frozen=True, slots=True)
class _Held:
    """The flask of the present cure, and the load that it was put in with."""

    load: int
    ends: datetime
    open_from: datetime
    program: dict[str, Any]
    left_at: datetime | None
    cooled_at: datetime | None
    conceded_cool: bool
    conceded_open: bool

    @property
    def opens(self) -> datetime:
        left = self.cooled_at
        if left is None or (left + SAME < self.ends and not self.conceded_cool):
            return self.open_from
        return left + timedelta(minutes=read_program(self.program).cooling_minutes)


def _held(case: Case) -> _Held | None:
    cooled = CaseStage.objects.filter(case=case, key=COOL, state="done").values("ended_at")[:1]
    said = Event.objects.filter(
        case=case, kind=CONCEDED, received_at__gte=OuterRef("load__placed_at")
    )
    row = (
        LoadFlask.objects.filter(
            Q(left_at=None) | Q(left_at__gt=F("load__placed_at")),
            stage__case=case,
            stage__key=CURE,
            stage__attempt=F("attempt"),
            load__ends_at__isnull=False,
            load__open_from__isnull=False,
        )
        .order_by("-pk")
        .values_list(
            "load__number",
            "load__ends_at",
            "load__open_from",
            "load__program__document",
            "left_at",
            Subquery(cooled),
            Exists(said.filter(subject=COOL)),
            Exists(said.filter(subject=OPEN)),
        )
        .first()
    )
    return _Held(*row) if row else None


def _runs(held: _Held) -> Shut:
    words = _("The program of load %(number)d runs until %(at)s. Leave the flask in the bath.")
    return Shut("waiting", words % {"number": held.load, "at": when(held.ends)}, held.ends)


def _in_bath(held: _Held) -> Shut:
    words = _("By the record the flask is in the bath. Note first that load %(number)d is out.")
    return Shut("in-bath", words % {"number": held.load})


def _hot(held: _Held, opens: datetime) -> Shut:
    words = _("The flask of load %(number)d cools until %(at)s. Do not open it hot.")
    return Shut("waiting", words % {"number": held.load, "at": when(opens)}, opens)
