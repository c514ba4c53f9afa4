"""Waits and alarms. The row is the truth; the queue only carries a nudge."""

from __future__ import annotations

from django.db import models


class Timer(models.Model):
    """An instant at which somebody must be told something about a case, or a load of a bath.

    ``kind``: ``wait-over`` (setting, cooling or curing has ended), ``latest-soon`` and
    ``latest`` (the next stage should have begun), ``pour-soon`` and ``pour`` (the impression's
    own limit), ``forgotten`` (a stage runs suspiciously long), ``dough``, ``dough-soon`` and
    ``dough-over`` (what was mixed may be packed, is about to stiffen, is too stiff). Of a load,
    with no case and no stage: ``heat`` (begin heating), ``raise`` or ``boil`` (to the temperature
    of the program's stage ``step``), ``take-out`` (the program is over), ``to-water``; and from the
    bath's feed ``not-rising``, ``dropping`` and ``silent``.
    ``state``: ``pending``, ``fired``, ``cancelled``.
    """

    case = models.ForeignKey(
        "cases.Case", null=True, blank=True, on_delete=models.PROTECT, related_name="timers"
    )
    stage = models.ForeignKey(
        "cases.CaseStage", null=True, blank=True, on_delete=models.PROTECT, related_name="timers"
    )
    load = models.ForeignKey(
        "cases.Load", null=True, blank=True, on_delete=models.PROTECT, related_name="timers"
    )
    step = models.PositiveSmallIntegerField(default=0)
    kind = models.CharField(max_length=12)
    due_at = models.DateTimeField()
    state = models.CharField(max_length=10, default="pending")

    class Meta:
        ordering = ("due_at", "pk")
        constraints = [
            models.UniqueConstraint(
                fields=["stage", "kind"],
                condition=models.Q(state="pending"),
                name="one_pending_timer_a_kind",
            ),
            models.UniqueConstraint(
                fields=["load", "kind", "step"],
                condition=models.Q(state="pending"),
                name="one_pending_timer_a_step",
            ),
            models.CheckConstraint(
                condition=models.Q(load__isnull=True, case__isnull=False, stage__isnull=False)
                | models.Q(load__isnull=False, case__isnull=True, stage__isnull=True),
                name="timer_of_case_or_load",
            ),
        ]
        indexes = [
            models.Index(
                fields=["due_at"], condition=models.Q(state="pending"), name="timer_pending"
            )
        ]

    def __str__(self) -> str:
        return f"{self.case} {self.kind} {self.due_at:%Y-%m-%d %H:%M}"


class Alert(models.Model):
    """A timer that went off; repeated until a person acknowledges it.

    One that was stilled because what it rang for was begun, re-opened or closed is acknowledged
    by nobody.
    """

    timer = models.OneToOneField(Timer, on_delete=models.PROTECT, related_name="alert")
    words = models.CharField(max_length=200)
    raised_at = models.DateTimeField()
    acknowledged_at = models.DateTimeField(null=True, blank=True)
    acknowledged_by = models.ForeignKey(
        "cases.Person", null=True, blank=True, on_delete=models.PROTECT, related_name="+"
    )

    class Meta:
        ordering = ("raised_at", "pk")
        indexes = [
            models.Index(
                fields=["raised_at"],
                condition=models.Q(acknowledged_at__isnull=True),
                name="alert_open",
            )
        ]

    def __str__(self) -> str:
        return self.words


class Delivery(models.Model):
    """The handing over of one alert, at least once: claimed by lease, then marked sent."""

    alert = models.OneToOneField(Alert, on_delete=models.PROTECT, related_name="delivery")
    lease_until = models.DateTimeField(null=True, blank=True)
    sent_at = models.DateTimeField(null=True, blank=True)
    times = models.PositiveSmallIntegerField(default=0)

    class Meta:
        ordering = ("pk",)

    def __str__(self) -> str:
        return f"{self.alert} × {self.times}"
