"""What a decision about a cure does to the cases of a load, whoever decides and on what ground.

Locks: the load is locked by who decides; then its cases by primary key, then their rows.
"""

from __future__ import annotations

from collections.abc import Sequence
from datetime import timedelta
from typing import Any, Final

from cases.models import Case, Load, LoadFlask, Note
from cases.selectors.concerned import Concerned, concerned
from cases.selectors.lateness import late_among
from cases.selectors.loads import as_run
from cases.services.access import lock_case
from cases.services.cure_rest import set_rest
from cases.services.load import CURE
from cases.services.load_longer import still_timers
from cases.services.progress import refresh
from cases.services.record import Recorder
from cases.services.send_back import go_back

BACK_TO: Final = {"scrap": "pack", "repeat": CURE}
"""To which stage a case goes back, by what was decided."""


def on_each_case(
    record: Recorder,
    flasks: Sequence[LoadFlask],
    kinds: tuple[str, str],
    words: str,
    **facts: Any,
) -> Concerned:
    """Put a decision into the history of each case, with its words; return how far each is.

    Parameters
    ----------
    kinds
        Of the event: for a case that is still in its flask, and for one that stays where it is.
    """
    for flask in flasks:
        flask.case = lock_case(flask.case_id)
    found = concerned(flasks)
    in_flask, came_late = kinds
    for kind, case in (
        *((in_flask, case) for case in found.shut),
        *((came_late, case) for case in (*found.opened, *found.gone)),
    ):
        record.event(kind, case=case, subject=CURE, **facts)
        record.create(Note, case=case, text=words, kind="note", by=record.person, at=record.now)
    return found


def back(record: Recorder, case: Case, key: str, reason: str, words: str) -> None:
    """Let one case go back, as any send-back does: what follows opens again, the work stays."""
    stage = case.stages.select_for_update().filter(key=key).exclude(state="planned").first()
    if stage is None:
        return
    go_back(record, case, [stage], reason=reason, words=words, standing={})
    if key == CURE:
        set_rest(record, case)
        refresh(record, case)


def empty(record: Recorder, load: Load) -> None:
    """Note that all flasks of a load leave its bath; they are hot, so they cool first."""
    cooling = timedelta(minutes=as_run(load).cooling_minutes)
    for flask in load.flasks.filter(left_at=None):
        record.change(flask, left_at=record.now)
    record.change(
        load,
        state="over",
        ends_at=min(load.ends_at or record.now, record.now),
        open_from=record.now + cooling,
        version=load.version + 1,
    )
    still_timers(record, load, all_of_them=True)


def tell_late(record: Recorder, delayed: Sequence[Case], text: str) -> list[str]:
    """Tell the practices of cases that cannot leave as promised; return the cases' numbers."""
    late = late_among([case.pk for case in delayed], record.now)
    told = []
    for case in Case.objects.filter(pk__in=late).order_by("pk"):
        record.event("note.written", case=case, subject="note")
        record.create(
            Note, case=case, kind="note", visible_to_practice=True, by=record.person, at=record.now,
            text=text,
        )  # fmt: skip
        told.append(case.number)
    return told
