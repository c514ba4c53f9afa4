"""The plan as last made, what people pinned in it, and the planner's own state."""

from __future__ import annotations

from django.db import models


class Plan(models.Model):
    """One plan that was published. Plans are reckoned, not recorded: an old one may be dropped.

    ``how``: ``rules`` (the dispatcher), ``mend``, ``search``, or ``local`` (search without the
    solver). ``lateness`` is in weighted minutes, ``flow`` in minutes; ``up_to_event`` the last
    event that it knows of; ``unplanned`` lists the sentence of each stage without a place
    (``[{"stage": pk, "words": …}]``);
    ``words`` what the planner could not do; ``asked`` that it was asked what would save its late
    cases.
    """

    made_at = models.DateTimeField()
    how = models.CharField(max_length=10)
    lateness = models.FloatField(default=0)
    moves = models.PositiveIntegerField(default=0)
    flow = models.PositiveBigIntegerField(default=0)
    seconds = models.FloatField(default=0)
    up_to_event = models.PositiveBigIntegerField(default=0)
    unplanned = models.JSONField(default=list, blank=True)
    words = models.JSONField(default=list, blank=True)
    asked = models.BooleanField(default=False)

    class Meta:
        ordering = ("-pk",)

    def __str__(self) -> str:
        return f"Plan {self.pk}"


class PlanStage(models.Model):
    """A stage in a plan: who does it where, from when to when.

    ``together`` names the batch or load, ``why`` says in words what it waits for until then.
    ``was_person`` and ``was_from`` are what the plan
    before said, set only where it differs within the days that people look at.
    """

    plan = models.ForeignKey(Plan, on_delete=models.CASCADE, related_name="rows")
    stage = models.ForeignKey("cases.CaseStage", on_delete=models.CASCADE, related_name="+")
    person = models.ForeignKey(
        "cases.Person", null=True, blank=True, on_delete=models.CASCADE, related_name="+"
    )
    bath = models.ForeignKey(
        "cases.Bath", null=True, blank=True, on_delete=models.CASCADE, related_name="+"
    )
    begins_at = models.DateTimeField()
    ends_at = models.DateTimeField()
    together = models.CharField(max_length=60, blank=True, default="")
    signer = models.ForeignKey(
        "cases.Person", null=True, blank=True, on_delete=models.CASCADE, related_name="+"
    )
    signed_from = models.DateTimeField(null=True, blank=True)
    was_person = models.ForeignKey(
        "cases.Person", null=True, blank=True, on_delete=models.CASCADE, related_name="+"
    )
    was_from = models.DateTimeField(null=True, blank=True)
    why = models.TextField(blank=True, default="")

    class Meta:
        ordering = ("begins_at", "pk")
        constraints = [
            models.UniqueConstraint(fields=["plan", "stage"], name="plan_stage_once"),
            models.CheckConstraint(
                condition=models.Q(ends_at__gte=models.F("begins_at")), name="plan_stage_in_order"
            ),
        ]
        indexes = [models.Index(fields=["plan", "person", "begins_at"], name="plan_of_person")]

    def __str__(self) -> str:
        return f"{self.stage} {self.begins_at:%Y-%m-%d %H:%M}"


class PlanCase(models.Model):
    """When a case leaves by a plan; ``late_minutes`` past what was promised.

    ``why`` are the sentences of a late case, what each stage that it hangs on waits for;
    ``remedies`` what would save it as the planner answered (``[{"words": …, "saves": minutes}]``),
    empty until it was asked.
    """

    plan = models.ForeignKey(Plan, on_delete=models.CASCADE, related_name="cases")
    case = models.ForeignKey("cases.Case", on_delete=models.CASCADE, related_name="+")
    leaves_at = models.DateTimeField(null=True, blank=True)
    late_minutes = models.PositiveIntegerField(default=0)
    why = models.JSONField(default=list, blank=True)
    remedies = models.JSONField(default=list, blank=True)

    class Meta:
        ordering = ("leaves_at", "pk")
        constraints = [
            models.UniqueConstraint(fields=["plan", "case"], name="plan_case_once"),
        ]

    def __str__(self) -> str:
        return f"{self.case} {self.late_minutes}"


class PlanPin(models.Model):
    """What somebody decided about a stage before the planner did: who, from when, or both.

    Of a cure it may be the ``bath`` and its minute: all pieces with the same are one load. It holds
    until it is lifted or the stage begins.
    """

    stage = models.ForeignKey("cases.CaseStage", on_delete=models.PROTECT, related_name="pins")
    person = models.ForeignKey(
        "cases.Person", null=True, blank=True, on_delete=models.PROTECT, related_name="+"
    )
    begins_at = models.DateTimeField(null=True, blank=True)
    bath = models.ForeignKey(
        "cases.Bath", null=True, blank=True, on_delete=models.PROTECT, related_name="+"
    )
    by = models.ForeignKey("cases.Person", on_delete=models.PROTECT, related_name="+")
    at = models.DateTimeField()
    lifted_at = models.DateTimeField(null=True, blank=True)
    lifted_by = models.ForeignKey(
        "cases.Person", null=True, blank=True, on_delete=models.PROTECT, related_name="+"
    )

    class Meta:
        ordering = ("pk",)
        constraints = [
            models.UniqueConstraint(
                fields=["stage"], condition=models.Q(lifted_at__isnull=True), name="one_pin_a_stage"
            ),
            models.CheckConstraint(
                condition=models.Q(person__isnull=False) | models.Q(begins_at__isnull=False),
                name="pin_says_something",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.stage} pinned"


class Planner(models.Model):
    """The planner at work (a single row): whose turn it is, how far it is, whether to stop.

    ``busy_until`` is the lease of the worker that plans now. ``improved_for`` is the plan that
    has had its whole budget; ``first_lateness`` and ``best_lateness`` are of the improvement
    that runs or ran last; ``stop_asked`` ends it and keeps the best so far. ``fault`` says why
    the last plan was refused.
    """

    busy_until = models.DateTimeField(null=True, blank=True)
    looked_at = models.DateTimeField(null=True, blank=True)
    improving_since = models.DateTimeField(null=True, blank=True)
    improved_for = models.PositiveBigIntegerField(default=0)
    spent_seconds = models.FloatField(default=0)
    first_lateness = models.FloatField(default=0)
    best_lateness = models.FloatField(default=0)
    stop_asked = models.BooleanField(default=False)
    fault = models.CharField(max_length=400, blank=True, default="")

    def __str__(self) -> str:
        return f"Planner {self.pk}"
