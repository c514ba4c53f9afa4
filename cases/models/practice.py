"""The practices that order, and the people there."""

from __future__ import annotations

from django.db import models


class Practice(models.Model):
    """A practice: its code, van route and usual orders.

    ``ship_weekdays`` are the weekdays (0 Monday) on which the van leaves for it, ``transit_days``
    the working days until the box is there, ``cut_off`` the local time at which the van leaves.
    """

    name = models.CharField(max_length=80)
    code = models.CharField(max_length=8, unique=True)
    address = models.TextField(blank=True, default="")
    phone = models.CharField(max_length=40, blank=True, default="")
    van_route = models.CharField(max_length=40, blank=True, default="")
    ship_weekdays = models.JSONField(default=list)
    transit_days = models.PositiveSmallIntegerField(default=0)
    cut_off = models.TimeField()
    usual_borders = models.CharField(max_length=20, blank=True, default="")
    usual_polish = models.CharField(max_length=20, blank=True, default="")
    active = models.BooleanField(default=True)

    class Meta:
        ordering = ("name", "pk")

    def __str__(self) -> str:
        return self.name


class Dentist(models.Model):
    """Somebody who prescribes, at one or more practices."""

    name = models.CharField(max_length=80)
    licence = models.CharField(max_length=40, blank=True, default="")
    person = models.OneToOneField(
        "cases.Person", null=True, blank=True, on_delete=models.PROTECT, related_name="dentist"
    )
    active = models.BooleanField(default=True)

    class Meta:
        ordering = ("name", "pk")

    def __str__(self) -> str:
        return self.name


class DentistAt(models.Model):
    """A dentist works at a practice."""

    dentist = models.ForeignKey(Dentist, on_delete=models.PROTECT, related_name="places")
    practice = models.ForeignKey(Practice, on_delete=models.PROTECT, related_name="dentists")

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["dentist", "practice"], name="dentist_at_once")
        ]

    def __str__(self) -> str:
        return f"{self.dentist} @ {self.practice}"


class PracticeMember(models.Model):
    """A signed-in person (dentist or reception) who may see a practice's cases."""

    person = models.ForeignKey("cases.Person", on_delete=models.PROTECT, related_name="memberships")
    practice = models.ForeignKey(Practice, on_delete=models.PROTECT, related_name="members")

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["person", "practice"], name="practice_member_once")
        ]

    def __str__(self) -> str:
        return f"{self.person} @ {self.practice}"
