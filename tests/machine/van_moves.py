"""The moves of the van: pack, take out, hand over, fetch, print."""

from __future__ import annotations

from typing import Any

from cases.models import Case, PickUp, Shipment
from cases.selectors.dispatch import ready_to_pack
from cases.services import dispatch, papers
from tests.factories import answers
from tests.machine.driver import Driver
from tests.machine.registry import move


def an_entry(m: Driver, case: Case) -> dict[str, Any]:
    """Return what the packing form says of a case; now and then without its checks."""
    stage = case.stages.filter(key="pack-out").first()
    received = [row.pk for row in case.received.all()]
    return {
        "case": case.pk,
        "checks": answers(stage) if stage and m.pick.random() < 0.9 else [],
        "soak": m.words("the van was due"),
        "alone": m.words("the other follows"),
        "received": received[:1],
        "casts": [thing.pk for thing in case.things.filter(kind="cast")[:1]],
    }


@move(5)
def pack(m: Driver) -> None:
    """Pack what is ready, or what is not."""
    ready = list(ready_to_pack())
    case = m.one(ready) if ready and m.pick.random() < 0.9 else m.case()
    if case is None:
        return
    if m.pick.random() < 0.4:
        m.pass_time(24 * 60)
    box = m.one(list(Shipment.objects.all())) if m.pick.random() < 0.3 else None
    m.send(
        dispatch.pack,
        m.who("noor"),
        practice=m.pick.choice([case.practice_id] * 9 + [0]),
        cases=[an_entry(m, case)] if m.pick.random() < 0.95 else [],
        ship_on=m.pick.choice([m.now.date().isoformat()] * 9 + ["2020-01-01"]),
        shipment=box.pk if box else None,
    )


@move(3)
def box(m: Driver) -> None:
    """Hand a box to the carrier, or take something out of it; now and then one that is none."""
    row = m.one(list(Shipment.objects.prefetch_related("contents")))
    if row is None or m.pick.random() < 0.1:
        verb = m.pick.choice([dispatch.mark_sent, dispatch.unpack])
        more = {"case": 0, "reason": "none"} if verb is dispatch.unpack else {}
        if m.pick.random() < 0.2:
            m.send(verb, m.who("noor"), shipment=0, **more)
        return
    if m.pick.random() < 0.5:
        m.pass_time(m.pick.choice([1, 15]))
        m.send(dispatch.mark_sent, m.who("noor"), shipment=row.pk, carrier_ref="AB 12")
        return
    inside = m.one([one.case_id for one in row.contents.all()])
    m.send(
        dispatch.unpack,
        m.who("noor"),
        shipment=row.pk,
        case=inside or 0,
        reason=m.words("wrong box"),
    )


@move(1)
def fetch(m: Driver) -> None:
    """Ask for a pick-up, or tick one off."""
    row = m.one(list(PickUp.objects.all()))
    if row is not None and m.pick.random() < 0.6:
        m.send(dispatch.pick_up_done, m.who("noor"), pick_up=row.pk)
        return
    m.send(
        dispatch.ask_pick_up,
        m.who("noor"),
        practice=m.shop.practice.pk,
        day=m.now.date().isoformat(),
        words=m.words("impression"),
    )


@move(1)
def print_paper(m: Driver) -> None:
    """Keep a paper of a case, or of none."""
    case = m.case()
    stored = {"sha256": "1" * 64, "size": 9, "path": "11/1.pdf", "content_type": papers.PDF}
    m.send(
        papers.keep_paper,
        m.who("noor"),
        kind=m.pick.choice(["ticket", "label", "poster"]),
        number=case.number if case else "none",
        stored=stored,
        case=case.pk if case else None,
    )
