"""The moves after a power cut: one decision for all loads, sensible or not."""

from __future__ import annotations

from datetime import timedelta
from typing import Any

from cases.models import Bath, Load
from cases.selectors.cuts import Span, loads_then
from cases.services import cut, load, load_run
from cases.services.cut_finding import finding
from tests.machine.driver import Driver
from tests.machine.load_moves import a_program
from tests.machine.registry import move


def _entries(m: Driver, span: Span, decision: str = "") -> list[dict[str, Any]]:
    """Return what is decided about each load: what is said, or something that is offered."""
    made = []
    for row in loads_then(span):
        found = finding(row, span, None)
        made.append(
            {
                "load": row.number,
                "version": row.version if decision else m.version(row),
                "stage": found.stage,
                "decision": decision or m.pick.choice(found.offers),
                "minutes": m.pick.choice([600, 0]) if not decision else 600,
            }
        )
    return made


@move(1)
def the_power_was_away(m: Driver) -> None:
    """Decide about a cut of the last hours, now and then of a time that cannot be."""
    hours = m.pick.choice([3, 1, -1])
    span = Span(m.now - timedelta(hours=hours), None, m.now)
    m.send(
        cut.decide_cut,
        m.who("oren"),
        loads=_entries(m, span),
        words=m.words("the street was dark"),
        off_at=span.since.isoformat(),
    )


def the_power_goes(m: Driver) -> None:
    """Twice in one night the power is away: the load is held longer, then it is scrapped."""
    case, bath = m.case(), Bath.objects.order_by("pk").first()
    if case is None or bath is None:
        raise AssertionError("the lab has no bath or no case")
    clamp = case.stages.get(key="cure")
    m.now = max(m.now, clamp.may_from or m.now) + timedelta(minutes=1)
    m.send(load.make_load, "mara", bath=bath.pk, program=a_program().pk)
    row = Load.objects.get()
    for verb, body in (
        (load.add_flask, {"label": case.number, "thickest_mm": 4.0}),
        (load.estimate, {}),
        (load_run.start_load, {"rest_words": "it is late"}),
    ):
        row.refresh_from_db()
        m.send(verb, "mara", load=row.number, version=row.version, **body)
    for decision in ("longer", "scrap"):
        off = m.now + timedelta(hours=2)
        m.now += timedelta(hours=4)
        span = Span(off, m.now, m.now)
        for words in ("", "the street was dark"):
            m.send(
                cut.decide_cut,
                "oren",
                loads=_entries(m, span, decision),
                words=words,
                off_at=off.isoformat(),
                on_at=m.now.isoformat(),
            )
    row.refresh_from_db()
    if row.state != "over" or case.stages.get(key="pack").state != "planned":
        raise AssertionError("the scrapped load is still in its bath")
