"""Boxes on the van, papers, and how the piece seated."""

from __future__ import annotations

from django.db import models


class Shipment(models.Model):
    """One box for one practice: packed, then handed to the carrier."""

    number = models.CharField(max_length=14, unique=True)
    practice = models.ForeignKey(
        "cases.Practice", on_delete=models.PROTECT, related_name="shipments"
    )
    ship_on = models.DateField()
    packed_at = models.DateTimeField()
    packed_by = models.ForeignKey("cases.Person", on_delete=models.PROTECT, related_name="+")
    sent_at = models.DateTimeField(null=True, blank=True)
    sent_by = models.ForeignKey(
        "cases.Person", null=True, blank=True, on_delete=models.PROTECT, related_name="+"
    )
    carrier_ref = models.CharField(max_length=60, blank=True, default="")

    class Meta:
        ordering = ("-packed_at", "pk")

    def __str__(self) -> str:
        return self.number


class ShipmentCase(models.Model):
    """A case in a box; ``alone_reason`` says why its twin is not with it."""

    shipment = models.ForeignKey(Shipment, on_delete=models.PROTECT, related_name="contents")
    case = models.OneToOneField("cases.Case", on_delete=models.PROTECT, related_name="shipment_row")
    alone_reason = models.CharField(max_length=200, blank=True, default="")

    class Meta:
        ordering = ("pk",)

    def __str__(self) -> str:
        return f"{self.shipment} {self.case}"


class PickUp(models.Model):
    """Something to be fetched from a practice with the van."""

    practice = models.ForeignKey(
        "cases.Practice", on_delete=models.PROTECT, related_name="pick_ups"
    )
    day = models.DateField()
    words = models.CharField(max_length=120)
    by = models.ForeignKey("cases.Person", on_delete=models.PROTECT, related_name="+")
    asked_at = models.DateTimeField()
    done_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        ordering = ("day", "pk")

    def __str__(self) -> str:
        return f"{self.practice} {self.day}"


class Paper(models.Model):
    """A printed paper, kept as it was printed.

    ``designs``: the version of the design that it tells of each case, by the case's number.
    """

    kind = models.CharField(max_length=20)
    number = models.CharField(max_length=20)
    case = models.ForeignKey(
        "cases.Case", null=True, blank=True, on_delete=models.PROTECT, related_name="papers"
    )
    shipment = models.ForeignKey(
        Shipment, null=True, blank=True, on_delete=models.PROTECT, related_name="papers"
    )
    file = models.ForeignKey("cases.File", on_delete=models.PROTECT, related_name="+")
    designs = models.JSONField(default=dict)
    at = models.DateTimeField()

    class Meta:
        ordering = ("pk",)

    def __str__(self) -> str:
        return f"{self.kind} {self.number}"


class InsertionReport(models.Model):
    """How it seated, in five fields (``cases.domain.insertion``); a later report is a further row.

    ``chair_minutes`` is empty when nobody told them: not reported is not the same as good.
    """

    case = models.ForeignKey("cases.Case", on_delete=models.PROTECT, related_name="reports")
    seating = models.CharField(max_length=20)
    retention = models.CharField(max_length=20)
    bite = models.CharField(max_length=20)
    sore_spots = models.CharField(max_length=20)
    chair_minutes = models.PositiveSmallIntegerField(null=True, blank=True)
    adjusted = models.JSONField(default=list)
    words = models.TextField(blank=True, default="")
    by = models.ForeignKey("cases.Person", on_delete=models.PROTECT, related_name="+")
    at = models.DateTimeField()

    class Meta:
        ordering = ("at", "pk")

    def __str__(self) -> str:
        return f"{self.case} insertion"
