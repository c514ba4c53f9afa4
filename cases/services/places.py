"""Where a case's own things are: its casts, its tooth card, what came with it."""

from __future__ import annotations

from typing import Any

from django.utils.translation import gettext as _

from cases.domain.words import N_
from cases.models import Thing
from cases.services.access import lock_open_case
from cases.services.record import Recorder, Refusal, verb

OF_A_CASE: dict[str, str] = {
    "cast": N_("Cast"),
    "tooth-card": N_("Tooth card"),
    "impression": N_("Impression"),
    "old-piece": N_("Old piece"),
}
"""Things that belong to one case and are looked for by it; common practice, no published
source."""


@verb("thing.keep", may="note")
def keep_thing(
    record: Recorder, *, case: int, kind: str, place: str, label: str = ""
) -> dict[str, Any]:
    """Note where a thing of a case is; the first note about it makes it known.

    ``label`` tells several of a kind apart ("opposing cast").

    Raises
    ------
    Refusal
        ``no-kind`` for a kind that is not a case's own, ``no-place`` without a place.
    """
    row = lock_open_case(case)
    if kind not in OF_A_CASE:
        raise Refusal("no-kind", _("Choose what it is."), field="kind")
    if not place.strip():
        raise Refusal("no-place", _("Say where it was put."), field="place")
    name = (label.strip() or OF_A_CASE[kind])[:40]
    thing = row.things.select_for_update().filter(kind=kind, label__iexact=name).first()
    record.event("thing.put", case=row, subject=f"{kind} {name}", place=place.strip()[:60])
    if thing is None:
        thing = record.create(Thing, kind=kind, label=name, case=row, place=place.strip()[:60])
    else:
        record.change(thing, place=place.strip()[:60], state="in-use")
    return {"thing": thing.pk}
