"""The last temperature of a bath in words, with its age and its shape."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from urllib.parse import urlencode

from django.urls import reverse
from django.utils.translation import gettext as _

from cases.domain.words import N_
from cases.models import Load, LoadTrace
from cases.selectors.feeds import LastHeat, last_heats, trace_of

FAULTS = {
    "not-rising": N_("does not heat as it should"),
    "dropping": N_("falls"),
    "silent": N_("nothing comes in"),
}


@dataclass(frozen=True)
class HeatWords:
    """What a feed told last; ``tag`` and ``state`` are the shape and the word of its state.

    ``fault``: the bath does not do what its load asks for, as far as the feed tells.
    """

    words: str
    at: datetime | None
    tag: str
    state: str
    trouble: str = ""
    fault: bool = False


def heat_words(heat: LastHeat | None) -> HeatWords | None:
    """Say what a feed told last; None where the bath has no feed."""
    if heat is None:
        return None
    if heat.at is None or heat.celsius is None:
        words, tag, state = _("No temperature yet"), "held", _("no reading")
    else:
        words = _("%(celsius)s °C") % {"celsius": f"{heat.celsius:.1f}"}
        tag, state = ("failed", _("old reading")) if heat.old else ("done", _("read live"))
    if heat.fault:
        tag, state = "failed", _(FAULTS[heat.fault])
    return HeatWords(words, heat.at, tag, state, heat.trouble, fault=bool(heat.fault))


@dataclass(frozen=True)
class Live:
    """What the feed of a load's bath has to say: its last temperature while the load is in the
    bath, and where its trace is confirmed once it is over."""

    heat: HeatWords | None = None
    trace: LoadTrace | None = None
    confirm: str = ""


def live_of(load: Load, now: datetime) -> Live:
    """Return what the feed says of a load; nothing of one that was not in the bath."""
    if load.state == "running":
        return Live(heat_words(last_heats([load.bath_id], now).get(load.bath_id)))
    trace = trace_of(load) if load.state == "over" else None
    if trace is None or load.records.filter(sha256=trace.sha256).exists():
        return Live()
    query = urlencode({"probe_at": "bath", "probe": trace.probe})
    where = reverse("cases:bath-record-read", args=[load.number, trace.sha256])
    return Live(trace=trace, confirm=f"{where}?{query}")
