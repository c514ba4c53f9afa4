"""What stands in the lab: stations, baths, and the things that cases occupy."""

from __future__ import annotations

from django.db import models


class Station(models.Model):
    """A place where a kind of work is done, and how many people can work there at once."""

    key = models.SlugField(unique=True, max_length=30)
    name = models.CharField(max_length=60)
    count = models.PositiveSmallIntegerField(default=1)

    class Meta:
        ordering = ("name", "pk")

    def __str__(self) -> str:
        return self.name


class Bath(models.Model):
    """A curing bath and the number of flasks it takes.

    ``highest_c`` is the hottest that it can hold (empty: it boils). ``starts_itself``: its own
    clock begins a program at a chosen time. ``lag_minutes`` is how long resin in a flask stays
    behind it, as measured on ``lag_on`` with a thermocouple in a dummy flask.
    """

    name = models.CharField(max_length=40, unique=True)
    capacity = models.PositiveSmallIntegerField()
    highest_c = models.FloatField(null=True, blank=True)
    starts_itself = models.BooleanField(default=False)
    lag_minutes = models.FloatField(null=True, blank=True)
    lag_on = models.DateField(null=True, blank=True)
    active = models.BooleanField(default=True)

    class Meta:
        ordering = ("name", "pk")

    def __str__(self) -> str:
        return self.name


class Thing(models.Model):
    """A numbered or named object: a flask, an articulator, a clamp, or a cast of one case.

    ``state`` is ``in-use`` for what exists, ``void`` for a cast that a new impression replaced,
    ``gone`` for what was broken, discarded or retired. ``place`` is where it was last put.
    ``pour`` tells which pour of its case a cast came from, counted from 1; it is empty for what
    no pour of this case can make void (a cast handed on from another case, or one whose own
    impression was good when another was taken anew).
    """

    kind = models.CharField(max_length=20)
    label = models.CharField(max_length=40)
    case = models.ForeignKey(
        "cases.Case", null=True, blank=True, on_delete=models.PROTECT, related_name="things"
    )
    place = models.CharField(max_length=60, blank=True, default="")
    state = models.CharField(max_length=10, default="in-use")
    pour = models.PositiveSmallIntegerField(null=True, blank=True)

    class Meta:
        ordering = ("kind", "label", "pk")
        constraints = [
            models.UniqueConstraint(
                fields=["kind", "label"],
                condition=models.Q(case__isnull=True) & ~models.Q(state="gone"),
                name="shop_thing_once",
            )
        ]

    def __str__(self) -> str:
        return f"{self.kind} {self.label}"


class Occupied(models.Model):
    """A case occupies a thing from one stage until the finish of a later one."""

    thing = models.ForeignKey(Thing, on_delete=models.PROTECT, related_name="occupations")
    case = models.ForeignKey("cases.Case", on_delete=models.PROTECT, related_name="occupations")
    from_stage = models.CharField(max_length=30)
    until_stage = models.CharField(max_length=30)
    since = models.DateTimeField()
    free_at = models.DateTimeField(null=True, blank=True)
    freed_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        constraints = [
            models.UniqueConstraint(
                fields=["thing"],
                condition=models.Q(freed_at__isnull=True),
                name="thing_occupied_once",
            )
        ]

    def __str__(self) -> str:
        return f"{self.thing}: {self.case}"
