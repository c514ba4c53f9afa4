"""Telling whether what was sent for a load is the trace of another bath, whatever file it is in."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from typing import Final

import numpy as np
from django.db.models import Q
from django.db.models.functions import Coalesce
from django.utils.translation import gettext as _

from cases.domain.cure.samples import Samples
from cases.models import BathRecord, Load
from cases.services.record import Refusal

LONGEST_CURE: Final = timedelta(days=4)
"""How long before a record a load may have gone in that it is of. No cure is longer. Judgement."""
FEWEST_ALIKE: Final = 12
COURSE_K: Final = 10.0
ALIKE_S: Final = 1.0
ALIKE_K: Final = 0.051
"""When two records are one trace: so many readings, over so many kelvin, each within a second and,
as Fahrenheit is rounded, half a tenth of a kelvin of the other's. Judgement."""


def refuse_another_baths(
    load: Load, sha256: str, column: int, samples: Samples, started: datetime
) -> None:
    """Refuse a trace that was kept as the record of another bath, in whatever file it comes.

    Parameters
    ----------
    sha256, column
        Of the file, and which of its columns is the temperature.
    samples, started
        What was read, and its first instant.

    Raises
    ------
    Refusal
        ``another-bath``.
    """
    begins = started.astimezone(UTC)
    ends = begins + timedelta(seconds=samples.end_s)
    went_in = Coalesce("load__starts_at", "load__placed_at")
    near = BathRecord.objects.alias(went_in=went_in).filter(
        Q(sha256=sha256) | Q(went_in__gt=begins - LONGEST_CURE, went_in__lt=ends)
    )
    for row in near.exclude(load__bath=load.bath_id).select_related("load__bath"):
        same_file = row.sha256 == sha256 and row.layout["column"] == column
        if same_file or _are_its_readings(row, samples, begins):
            raise Refusal(
                "another-bath",
                _(
                    "These readings are kept as the record of %(other)s (load %(number)d). Choose "
                    "the column of %(bath)s, or send its own record."
                )
                % {
                    "other": row.load.bath.name,
                    "number": row.load.number,
                    "bath": load.bath.name,
                },
                field="heat",
            )


def _are_its_readings(row: BathRecord, samples: Samples, begins: datetime) -> bool:
    """Tell whether the readings of a kept record are all among others, at the very same instants.

    Two baths never heat up alike to a tenth of a kelvin at each reading, so the same course is the
    same trace: saved anew, in other units or another hour of it. Of a course that is nearly level
    nothing is told by that.
    """
    shift = (datetime.fromisoformat(row.started).astimezone(UTC) - begins).total_seconds()
    # The ends may be reckoned.
    kept = np.asarray(row.points[1:-1], dtype=np.float64).reshape(-1, 2)
    at = kept[:, 0] + shift
    both = (at >= samples.start_s) & (at <= samples.end_s)
    at, celsius = at[both], kept[both, 1]
    if len(at) < FEWEST_ALIKE or np.ptp(celsius) < COURSE_K:
        return False
    after = np.clip(np.searchsorted(samples.seconds, at), 1, len(samples.seconds) - 1)
    early = at - samples.seconds[after - 1] < samples.seconds[after] - at
    nearest = np.where(early, after - 1, after)
    apart_s = np.abs(samples.seconds[nearest] - at)
    apart_k = np.abs(samples.celsius[nearest] - celsius)
    return bool((apart_s <= ALIKE_S).all() and (apart_k <= ALIKE_K).all())
