"""Checks of a case, what was entered for them, and what was conceded."""

from __future__ import annotations

from django.db import models


class CheckItem(models.Model):
    """One check for one subject at one stage of one case (``domain.checks.PlannedCheck``).

    ``state``: ``open``, ``passed``, ``failed``, ``conceded``, ``dropped``. ``values`` holds the
    latest entry (``{"yes": true, "values": {"press": 40}, "words": {"unit": "bar"}}``) and
    ``sentence`` what it means. ``design_version``: the version of the design that it is asked
    from, or was judged by.
    """

    case = models.ForeignKey("cases.Case", on_delete=models.PROTECT, related_name="checks")
    stage = models.ForeignKey("cases.CaseStage", on_delete=models.PROTECT, related_name="checks")
    key = models.CharField(max_length=60)
    number = models.PositiveSmallIntegerField()
    subject = models.CharField(max_length=40, blank=True, default="")
    position = models.PositiveSmallIntegerField(default=0)
    spec = models.JSONField()
    required = models.BooleanField(default=True)
    state = models.CharField(max_length=10, default="open")
    values = models.JSONField(default=dict)
    sentence = models.CharField(max_length=300, blank=True, default="")
    design_version = models.PositiveIntegerField(default=0)

    class Meta:
        ordering = ("stage_id", "position", "pk")
        constraints = [
            models.UniqueConstraint(fields=["case", "key"], name="check_item_once"),
            models.CheckConstraint(
                condition=models.Q(state__in=["open", "passed", "failed", "conceded", "dropped"]),
                name="check_item_state",
            ),
        ]

    def __str__(self) -> str:
        return self.key


class CheckResult(models.Model):
    """What one person entered for a check at one attempt. Rows are never changed.

    ``design_version``: the version of the design that the check was asked from; 0 where nobody
    kept it.
    """

    item = models.ForeignKey(CheckItem, on_delete=models.PROTECT, related_name="results")
    attempt = models.PositiveSmallIntegerField()
    values = models.JSONField(default=dict)
    state = models.CharField(max_length=10)
    sentence = models.CharField(max_length=300, blank=True, default="")
    design_version = models.PositiveIntegerField(default=0)
    by = models.ForeignKey("cases.Person", on_delete=models.PROTECT, related_name="+")
    at = models.DateTimeField()

    class Meta:
        ordering = ("pk",)

    def __str__(self) -> str:
        return f"{self.item} {self.state}"


class CheckPhoto(models.Model):
    """A photograph that belongs to a check at one attempt."""

    item = models.ForeignKey(CheckItem, on_delete=models.PROTECT, related_name="photos")
    attempt = models.PositiveSmallIntegerField()
    file = models.ForeignKey("cases.File", on_delete=models.PROTECT, related_name="+")

    class Meta:
        ordering = ("pk",)

    def __str__(self) -> str:
        return f"{self.item} {self.file}"


class Concession(models.Model):
    """A failed check accepted by a named person, who did not do the work, with a reason."""

    item = models.ForeignKey(CheckItem, on_delete=models.PROTECT, related_name="concessions")
    attempt = models.PositiveSmallIntegerField()
    reason = models.CharField(max_length=40)
    words = models.CharField(max_length=400, blank=True, default="")
    sentence = models.CharField(max_length=300, blank=True, default="")
    by = models.ForeignKey("cases.Person", on_delete=models.PROTECT, related_name="+")
    at = models.DateTimeField()

    class Meta:
        ordering = ("pk",)

    def __str__(self) -> str:
        return f"{self.item} conceded"
