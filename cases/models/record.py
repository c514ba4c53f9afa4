"""The record: every submission and the events under it. Rows are written once."""

from __future__ import annotations

import uuid

from django.db import models


class Submission(models.Model):
    """One thing that a person, a device or the clock did, accepted or refused.

    The same ``id`` with the same ``body_hash`` returns the stored ``result``; with another
    body it is refused. ``happened_at`` is the device's clock, ``received_at`` the server's.
    """

    id = models.UUIDField(primary_key=True, default=uuid.uuid4, editable=False)
    verb = models.CharField(max_length=40)
    door = models.CharField(max_length=12)
    person = models.ForeignKey(
        "cases.Person", null=True, blank=True, on_delete=models.PROTECT, related_name="+"
    )
    tablet = models.ForeignKey(
        "cases.Tablet", null=True, blank=True, on_delete=models.PROTECT, related_name="+"
    )
    body_hash = models.CharField(max_length=64)
    happened_at = models.DateTimeField()
    received_at = models.DateTimeField()
    outcome = models.CharField(max_length=8)
    code = models.CharField(max_length=40, blank=True, default="")
    result = models.JSONField(default=dict)

    class Meta:
        constraints = [
            models.CheckConstraint(
                condition=models.Q(outcome__in=["done", "refused"]), name="submission_outcome"
            )
        ]

    def __str__(self) -> str:
        return f"{self.verb} {self.outcome}"


class Event(models.Model):
    """One fact under a submission.

    ``facts`` tells what happened in the trade's words; ``changes`` is the list of stored
    cells that it set (``[{"m": model, "pk": pk, "set": {column: value}}]``), from which
    ``verify_record`` rebuilds the present state. ``digest`` covers the row's own content.
    """

    submission = models.ForeignKey(Submission, on_delete=models.PROTECT, related_name="events")
    n = models.PositiveSmallIntegerField()
    kind = models.CharField(max_length=40)
    subject = models.CharField(max_length=60, blank=True, default="")
    case = models.ForeignKey(
        "cases.Case", null=True, blank=True, on_delete=models.PROTECT, related_name="events"
    )
    by = models.ForeignKey(
        "cases.Person", null=True, blank=True, on_delete=models.PROTECT, related_name="+"
    )
    happened_at = models.DateTimeField()
    received_at = models.DateTimeField()
    facts = models.JSONField(default=dict)
    changes = models.JSONField(default=list)
    corrects = models.ForeignKey(
        "self", null=True, blank=True, on_delete=models.PROTECT, related_name="corrections"
    )
    digest = models.CharField(max_length=64)

    class Meta:
        ordering = ("pk",)
        constraints = [
            models.UniqueConstraint(fields=["submission", "n"], name="event_numbered_once")
        ]
        indexes = [models.Index(fields=["case", "id"], name="event_of_case")]

    def __str__(self) -> str:
        return f"{self.kind} {self.subject}".strip()


class Heartbeat(models.Model):
    """When a clock of the program last ran; a stale one puts a banner on every page."""

    name = models.CharField(max_length=20, primary_key=True)
    at = models.DateTimeField()

    def __str__(self) -> str:
        return f"{self.name} {self.at:%Y-%m-%d %H:%M:%S}"


class Counter(models.Model):
    """The next serial number of a series (cases of a year, delivery notes of a year)."""

    series = models.CharField(max_length=20, primary_key=True)
    last = models.PositiveIntegerField(default=0)

    def __str__(self) -> str:
        return f"{self.series} {self.last}"
