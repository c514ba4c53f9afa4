"""What was mixed at the packing: the clock of the dough."""

from __future__ import annotations

from django.db import models


class Mix(models.Model):
    """A bowl of resin that was mixed for one case at its packing.

    ``opens_at`` and ``closes_at`` are the maker's window of the dough as it was known then, None
    where it was not; ``closed_at`` is the last closing of the flask. A further mix of the same
    stage makes a further row, and the last one counts.
    """

    case = models.ForeignKey("cases.Case", on_delete=models.PROTECT, related_name="mixes")
    stage = models.ForeignKey("cases.CaseStage", on_delete=models.PROTECT, related_name="mixes")
    attempt = models.PositiveSmallIntegerField()
    resin = models.ForeignKey("cases.Resin", on_delete=models.PROTECT, related_name="mixes")
    mixed_at = models.DateTimeField()
    room_c = models.FloatField(null=True, blank=True)
    opens_at = models.DateTimeField(null=True, blank=True)
    closes_at = models.DateTimeField(null=True, blank=True)
    closed_at = models.DateTimeField(null=True, blank=True)
    by = models.ForeignKey("cases.Person", on_delete=models.PROTECT, related_name="+")

    class Meta:
        ordering = ("pk",)
        constraints = [
            models.CheckConstraint(
                condition=models.Q(closed_at__isnull=True)
                | models.Q(closed_at__gte=models.F("mixed_at")),
                name="mix_closed_after",
            ),
            models.CheckConstraint(
                condition=models.Q(opens_at__isnull=True)
                | models.Q(closes_at__isnull=True)
                | models.Q(opens_at__lte=models.F("closes_at")),
                name="mix_window",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.case} {self.mixed_at:%Y-%m-%d %H:%M}"
