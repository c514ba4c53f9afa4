"""The lab's route templates and the stages, edges and runs of each case."""

from __future__ import annotations

from django.db import models


class RouteVersion(models.Model):
    """One saved version of the lab's route template; open cases keep theirs."""

    version = models.PositiveIntegerField(unique=True)
    document = models.JSONField()
    changes = models.JSONField(default=list)
    reason = models.CharField(max_length=200, blank=True, default="")
    by = models.ForeignKey(
        "cases.Person", null=True, blank=True, on_delete=models.PROTECT, related_name="+"
    )
    saved_at = models.DateTimeField()

    class Meta:
        ordering = ("version",)

    def __str__(self) -> str:
        return f"Route {self.version}"


class CaseStage(models.Model):
    """A stage that a case has.

    ``state``: ``planned``, ``running``, ``paused``, ``countersign`` (work done, a second person
    must sign), ``away`` (at the practice), ``done``, ``skipped``, ``dropped`` (no longer part of
    the design). Only ``done`` and ``skipped`` release successors. ``ready_at`` is when the last
    wait before it ends (empty while a predecessor is open), ``may_from`` when the least of the
    waits end and a person may decide to go on, ``latest_at`` when it should have begun.
    ``version`` rises with every change and is what a stage's form carries.
    """

    case = models.ForeignKey("cases.Case", on_delete=models.PROTECT, related_name="stages")
    key = models.CharField(max_length=30)
    name = models.CharField(max_length=80)
    position = models.PositiveSmallIntegerField()
    kind = models.CharField(max_length=12)
    skill = models.CharField(max_length=30, blank=True, default="")
    station = models.CharField(max_length=30, blank=True, default="")
    minutes = models.FloatField(default=0)
    spec = models.JSONField(default=dict)
    state = models.CharField(max_length=12, default="planned")
    version = models.PositiveIntegerField(default=1)
    attempt = models.PositiveSmallIntegerField(default=1)
    assignee = models.ForeignKey(
        "cases.Person", null=True, blank=True, on_delete=models.PROTECT, related_name="+"
    )
    worker = models.ForeignKey(
        "cases.Person", null=True, blank=True, on_delete=models.PROTECT, related_name="+"
    )
    ready_at = models.DateTimeField(null=True, blank=True)
    may_from = models.DateTimeField(null=True, blank=True)
    latest_at = models.DateTimeField(null=True, blank=True)
    started_at = models.DateTimeField(null=True, blank=True)
    ended_at = models.DateTimeField(null=True, blank=True)
    words = models.CharField(max_length=200, blank=True, default="")

    class Meta:
        ordering = ("case_id", "position", "pk")
        constraints = [
            models.UniqueConstraint(fields=["case", "key"], name="case_stage_once"),
            models.CheckConstraint(
                condition=models.Q(
                    state__in=[
                        "planned",
                        "running",
                        "paused",
                        "countersign",
                        "away",
                        "done",
                        "skipped",
                        "dropped",
                    ]
                ),
                name="case_stage_state",
            ),
        ]
        indexes = [
            models.Index(fields=["state", "ready_at"], name="case_stage_ready"),
            models.Index(fields=["worker", "state"], name="case_stage_worker"),
            models.Index(fields=["assignee", "state"], name="case_stage_assignee"),
            # What must be begun soonest of one kind (the pour) among all that is still to do.
            models.Index(
                fields=["key", "latest_at"],
                condition=models.Q(state="planned", latest_at__isnull=False),
                name="case_stage_latest",
            ),
            # What somebody put down and nobody has: few rows among all that ever were.
            models.Index(
                fields=["skill"],
                condition=models.Q(state="paused", assignee__isnull=True),
                name="case_stage_put_down",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.case} {self.key}"


class CaseEdge(models.Model):
    """``after`` may begin ``min_wait`` minutes after ``before`` ended (keys of the case)."""

    case = models.ForeignKey("cases.Case", on_delete=models.PROTECT, related_name="edges")
    before = models.CharField(max_length=30)
    after = models.CharField(max_length=30)
    min_wait = models.FloatField(default=0)
    least_wait = models.FloatField(null=True, blank=True)
    max_wait = models.FloatField(null=True, blank=True)
    latest_words = models.CharField(max_length=200, blank=True, default="")

    class Meta:
        ordering = ("pk",)
        constraints = [
            models.UniqueConstraint(fields=["case", "before", "after"], name="case_edge_once")
        ]

    def __str__(self) -> str:
        return f"{self.before} → {self.after}"


class StageRun(models.Model):
    """One attempt at a stage, from its first start to its end. Earlier runs stay."""

    stage = models.ForeignKey(CaseStage, on_delete=models.PROTECT, related_name="runs")
    attempt = models.PositiveSmallIntegerField()
    begun_at = models.DateTimeField()
    ended_at = models.DateTimeField(null=True, blank=True)
    begun_by = models.ForeignKey(
        "cases.Person", null=True, blank=True, on_delete=models.PROTECT, related_name="+"
    )
    ended_by = models.ForeignKey(
        "cases.Person", null=True, blank=True, on_delete=models.PROTECT, related_name="+"
    )
    outcome = models.CharField(max_length=12, blank=True, default="")

    class Meta:
        ordering = ("pk",)
        constraints = [
            models.UniqueConstraint(
                fields=["stage"],
                condition=models.Q(ended_at__isnull=True),
                name="one_open_run_a_stage",
            )
        ]
        indexes = [
            models.Index(fields=["begun_at"], condition=models.Q(attempt__gt=1), name="run_again")
        ]

    def __str__(self) -> str:
        return f"{self.stage} #{self.attempt}"


class WorkSpan(models.Model):
    """Hands on a run, from start or resume to pause or finish.

    Raw clock times; several spans of one person at once share the minutes equally
    (``cases.domain.labour``). ``ended_how`` says what ended it when the hands themselves did
    not: ``lock``, ``leave``, ``shift`` or ``handed-on``; ``to_check`` that this still waits to
    be confirmed or corrected.
    """

    run = models.ForeignKey(StageRun, on_delete=models.PROTECT, related_name="spans")
    person = models.ForeignKey("cases.Person", on_delete=models.PROTECT, related_name="spans")
    began_at = models.DateTimeField()
    ended_at = models.DateTimeField(null=True, blank=True)
    ended_how = models.CharField(max_length=12, blank=True, default="")
    to_check = models.BooleanField(default=False)
    nudged_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        ordering = ("pk",)
        constraints = [
            models.UniqueConstraint(
                fields=["run"],
                condition=models.Q(ended_at__isnull=True),
                name="one_open_span_a_run",
            )
        ]
        indexes = [
            models.Index(
                fields=["person"], condition=models.Q(ended_at__isnull=True), name="span_open"
            ),
            models.Index(
                fields=["person"], condition=models.Q(to_check=True), name="span_to_check"
            ),
        ]

    def __str__(self) -> str:
        return f"{self.run} {self.person}"


class TimeCorrection(models.Model):
    """Minutes of a span as corrected by a person; the measured ones stay beside it."""

    span = models.ForeignKey(WorkSpan, on_delete=models.PROTECT, related_name="time_corrections")
    minutes_before = models.FloatField()
    minutes = models.FloatField()
    reason = models.CharField(max_length=60)
    by = models.ForeignKey("cases.Person", on_delete=models.PROTECT, related_name="+")
    at = models.DateTimeField()

    class Meta:
        ordering = ("pk",)

    def __str__(self) -> str:
        return f"{self.span}: {self.minutes}"


class SendBack(models.Model):
    """A return to an earlier stage with its reasons."""

    case = models.ForeignKey("cases.Case", on_delete=models.PROTECT, related_name="send_backs")
    from_stage = models.CharField(max_length=30)
    to_stage = models.CharField(max_length=30)
    reason = models.CharField(max_length=40)
    more_reasons = models.JSONField(default=list)
    words = models.CharField(max_length=400, blank=True, default="")
    reopened = models.JSONField(default=list)
    standing = models.JSONField(default=dict)
    by = models.ForeignKey("cases.Person", on_delete=models.PROTECT, related_name="+")
    at = models.DateTimeField()

    class Meta:
        ordering = ("pk",)

    def __str__(self) -> str:
        return f"{self.case}: {self.from_stage} → {self.to_stage}"


class Mishap(models.Model):
    """Something broke, fell or went wrong at a stage."""

    stage = models.ForeignKey(CaseStage, on_delete=models.PROTECT, related_name="mishaps")
    words = models.CharField(max_length=400)
    file = models.ForeignKey(
        "cases.File", null=True, blank=True, on_delete=models.PROTECT, related_name="+"
    )
    by = models.ForeignKey("cases.Person", on_delete=models.PROTECT, related_name="+")
    at = models.DateTimeField()

    class Meta:
        ordering = ("pk",)

    def __str__(self) -> str:
        return self.words[:60]


class Countersign(models.Model):
    """A student's stage that somebody else must sign before the next stage may begin."""

    stage = models.ForeignKey(CaseStage, on_delete=models.PROTECT, related_name="countersigns")
    run = models.ForeignKey(StageRun, on_delete=models.PROTECT, related_name="countersigns")
    asked_by = models.ForeignKey("cases.Person", on_delete=models.PROTECT, related_name="+")
    asked_at = models.DateTimeField()
    signed_by = models.ForeignKey(
        "cases.Person", null=True, blank=True, on_delete=models.PROTECT, related_name="+"
    )
    signed_at = models.DateTimeField(null=True, blank=True)
    agreed = models.BooleanField(null=True, blank=True)
    words = models.CharField(max_length=200, blank=True, default="")

    class Meta:
        ordering = ("asked_at", "pk")
        constraints = [
            models.UniqueConstraint(
                fields=["stage"],
                condition=models.Q(signed_at__isnull=True),
                name="one_open_countersign_a_stage",
            )
        ]

    def __str__(self) -> str:
        return f"{self.stage} countersign"
