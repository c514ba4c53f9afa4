"""From rows to papers: a box for its note, a round for the van, open cases for the day's print."""

from __future__ import annotations

from django.utils.translation import gettext as _
from django.utils.translation import gettext_noop, ngettext

from cases.documents import lists
from cases.documents.delivery_note import Box, Piece
from cases.documents.facts import House, case_facts
from cases.domain.order_choices import FORMS, ITEMS
from cases.models import PickUp, Received, Shipment, ShipmentCase, Thing
from cases.selectors.dispatch import IN_BOX, Round

CAST_WORDS = {
    "working": gettext_noop("working cast"),
    "master": gettext_noop("master cast"),
    "opposing": gettext_noop("opposing cast"),
}


def received_words(row: Received) -> str:
    """Say what came in the box: "opposing arch (poured cast)"."""
    item = _(dict(ITEMS).get(row.item, row.item)).lower()
    form = dict(FORMS).get(row.form, "")
    return f"{item} ({_(form).lower()})" if form else item


def cast_words(row: Thing) -> str:
    """Say which cast it is."""
    if row.label in CAST_WORDS:
        return _(CAST_WORDS[row.label])
    return _("cast %(label)s") % {"label": row.label}


def returns_of(row: ShipmentCase, number: str) -> tuple[str, ...]:
    """Return what goes back to the practice with a case in box ``number``."""
    case = row.case
    back = [received_words(item) for item in case.received.all() if item.state == "back"]
    place = IN_BOX.format(number=number)
    back += [
        cast_words(thing)
        for thing in case.things.all()
        if thing.kind == "cast" and thing.place == place
    ]
    return tuple(back)


def _alone(row: ShipmentCase, inside: set[int]) -> str:
    twin = row.case.twin
    if twin is None or twin.pk in inside:
        return ""
    if twin.state == "sent":
        return _("Its pair %(twin)s went before.") % {"twin": twin.number}
    if twin.state == "cancelled":
        return _("Its pair %(twin)s is not made.") % {"twin": twin.number}
    return _("Its pair %(twin)s is not in this box: %(why)s.") % {
        "twin": twin.number,
        "why": row.alone_reason.rstrip("."),
    }


def _soak(row: ShipmentCase) -> str:
    soak = next((stage for stage in row.case.stages.all() if stage.key == "soak"), None)
    return f"{soak.words.rstrip('.')}." if soak and soak.words else ""


def box_facts(box: Shipment, house: House, *, carrier: str = "") -> Box:
    """Gather what the note of a box tells; ``box`` as ``selectors.dispatch.find_box`` gives it."""
    rows = list(box.contents.all())
    inside = {row.case_id for row in rows}
    return Box(
        number=box.number,
        practice=box.practice.name,
        address=box.practice.address,
        ships=house.day(box.ship_on),
        packed_at=box.packed_at,
        carrier=carrier or box.carrier_ref,
        pieces=tuple(
            Piece(
                case_facts(row.case, house),
                soak=_soak(row),
                alone=_alone(row, inside),
                returns=returns_of(row, box.number),
            )
            for row in rows
        ),
    )


def _box_words(box: Shipment) -> str:
    pieces = int(box.pieces)  # type: ignore[attr-defined]
    said = ngettext("%(number)s (one piece)", "%(number)s (%(n)d pieces)", pieces)
    return said % {"number": box.number, "n": pieces}


def _to_fetch(rows: list[PickUp]) -> tuple[str, ...]:
    return tuple(row.words for row in rows if row.done_at is None)


def round_facts(rounds: list[Round]) -> tuple[lists.Round, ...]:
    """Gather what the van's list tells; a stop with nothing left to do is left out."""
    told = []
    for one in rounds:
        stops = []
        for stop in one.stops:
            boxes = tuple(_box_words(box) for box in stop.boxes if box.sent_at is None)
            fetch = _to_fetch(stop.pick_ups)
            if boxes or fetch:
                at = stop.practice
                stops.append(lists.Stop(at.name, at.address, at.phone, boxes, fetch))
        if stops:
            told.append(lists.Round(one.route, tuple(stops)))
    return tuple(told)
