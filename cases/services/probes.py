"""Probes of the baths, held against a reference; a check is added, never changed."""

from __future__ import annotations

from typing import Any

from django.utils.translation import gettext as _

from cases.models import Bath, ProbeCheck
from cases.services.lab import the_lab
from cases.services.record import Recorder, Refusal, verb
from cases.services.resins import past_day

WORST_K = 20.0
"""A probe that is further off is broken, or was read in another unit. Judgement."""


@verb("probe.check", may="settings")
def check_probe(
    record: Recorder,
    *,
    bath: int,
    probe: str,
    checked_on: str,
    reads_high_k: float,
    against: str,
) -> dict[str, Any]:
    """Write down by how many kelvin a probe of a bath reads high (below zero: low)."""
    lab = the_lab()
    row = Bath.objects.filter(pk=bath).first()
    if row is None:
        raise Refusal("no-bath", _("There is no such bath. Look at the list of baths."))
    probe, against = probe.strip()[:40], against.strip()[:120]
    if not probe:
        raise Refusal("no-probe", _("Say which probe it is, as it is marked."), field="probe")
    day = past_day(checked_on, lab, record.now, "checked_on")
    if not -WORST_K <= reads_high_k <= WORST_K:
        raise Refusal(
            "far-off",
            _("More than 20 K off is not corrected: replace the probe. Or was °F read?"),
            field="reads_high_k",
        )
    if not against:
        raise Refusal(
            "no-reference", _("Say against which thermometer, and at which °C."), field="against"
        )
    record.event("probe.checked", subject=f"{row.name} {probe}")
    made = record.create(
        ProbeCheck,
        bath=row,
        probe=probe,
        checked_on=day,
        reads_high_k=reads_high_k,
        against=against,
        by=record.actor,
        at=record.now,
    )
    return {"check": made.pk}
