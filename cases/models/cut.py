"""A load held longer than its program, and what was decided after a power cut."""

from __future__ import annotations

from django.db import models


class LoadExtension(models.Model):
    """Minutes by which the end of one stage of a load was moved on. Rows are never changed.

    ``stage`` counts from 0. ``how``: ``longer`` (somebody had it held longer), ``record`` (decided
    on a record of the bath), ``cut`` (decided after a power cut). The sum of a load's rows stands
    in ``Load.more_minutes``.
    """

    load = models.ForeignKey("cases.Load", on_delete=models.PROTECT, related_name="extensions")
    stage = models.PositiveSmallIntegerField()
    minutes = models.FloatField()
    how = models.CharField(max_length=8)
    record = models.ForeignKey(
        "cases.BathRecord", null=True, blank=True, on_delete=models.PROTECT, related_name="+"
    )
    cut = models.ForeignKey(
        "cases.PowerCut", null=True, blank=True, on_delete=models.PROTECT, related_name="+"
    )
    words = models.CharField(max_length=400, blank=True, default="")
    by = models.ForeignKey("cases.Person", on_delete=models.PROTECT, related_name="+")
    at = models.DateTimeField()

    class Meta:
        ordering = ("pk",)
        constraints = [
            models.CheckConstraint(
                condition=models.Q(minutes__gt=0), name="extension_adds_minutes"
            ),
            models.CheckConstraint(
                condition=models.Q(how="longer", record__isnull=True, cut__isnull=True)
                | models.Q(how="record", record__isnull=False, cut__isnull=True)
                | models.Q(how="cut", record__isnull=True, cut__isnull=False),
                name="extension_how",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.load} +{self.minutes:g}"


class PowerCut(models.Model):
    """A time without power, and the one decision about all loads that were in a bath then.

    ``off_at`` or ``on_at`` is empty where nobody knows it. ``words`` say why it was decided so.
    """

    off_at = models.DateTimeField(null=True, blank=True)
    on_at = models.DateTimeField(null=True, blank=True)
    words = models.CharField(max_length=400, blank=True, default="")
    by = models.ForeignKey("cases.Person", on_delete=models.PROTECT, related_name="+")
    at = models.DateTimeField()

    class Meta:
        ordering = ("-pk",)
        constraints = [
            models.CheckConstraint(
                condition=models.Q(off_at__isnull=False) | models.Q(on_at__isnull=False),
                name="cut_has_a_time",
            ),
            models.CheckConstraint(
                condition=models.Q(off_at__isnull=True)
                | models.Q(on_at__isnull=True)
                | models.Q(off_at__lt=models.F("on_at")),
                name="cut_ends_after_it_begins",
            ),
        ]

    def __str__(self) -> str:
        return f"Power cut {self.off_at or self.on_at}"


class CutLoad(models.Model):
    """One load of a power cut: how it stood, and what was decided about it. Never changed.

    ``says`` is what was reckoned from ``record``, or from what a person saw, with the model's
    version; it is never reckoned anew. ``decision``: ``as-is``, ``longer``, ``repeat``, ``scrap``;
    ``repeat`` is of one stage where it is held for ``hold_minutes``, else of the whole cure.
    ``hold_minutes`` from ``hot_at`` on is how long its ``stage`` (from 0) is still held.
    """

    cut = models.ForeignKey(PowerCut, on_delete=models.PROTECT, related_name="loads")
    load = models.ForeignKey("cases.Load", on_delete=models.PROTECT, related_name="cuts")
    found_c = models.FloatField(null=True, blank=True)
    record = models.ForeignKey(
        "cases.BathRecord", null=True, blank=True, on_delete=models.PROTECT, related_name="+"
    )
    says = models.JSONField(default=dict)
    stage = models.PositiveSmallIntegerField(default=0)
    decision = models.CharField(max_length=8)
    hold_minutes = models.FloatField(null=True, blank=True)
    hot_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        ordering = ("cut_id", "pk")
        constraints = [
            models.UniqueConstraint(fields=["cut", "load"], name="cut_load_once"),
            models.CheckConstraint(
                condition=models.Q(decision__in=["as-is", "longer", "repeat", "scrap"]),
                name="cut_load_decision",
            ),
            models.CheckConstraint(
                condition=models.Q(hold_minutes__isnull=True, hot_at__isnull=True)
                | models.Q(
                    decision__in=["longer", "repeat"], hold_minutes__gt=0, hot_at__isnull=False
                ),
                name="cut_load_hold",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.cut}: {self.load} {self.decision}"
