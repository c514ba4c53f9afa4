"""The cure: resins, their programs, loads of a bath, what its record said, probe checks."""

from __future__ import annotations

from django.db import models


class Resin(models.Model):
    """A heat-cured resin as the lab uses it, with what its maker's instructions say.

    Ratios are grams of powder to millilitres of liquid; times are minutes from the beginning of
    the mix, in a room of ``room_c``. ``resumable``: the maker allows a cycle that was cut short to
    be resumed.
    ``compared_on`` is when somebody held these numbers beside ``source``.
    """

    name = models.CharField(max_length=60, unique=True)
    source = models.CharField(max_length=200, blank=True, default="")
    compared_on = models.DateField(null=True, blank=True)
    ratio_low = models.FloatField(null=True, blank=True)
    ratio_high = models.FloatField(null=True, blank=True)
    dough_from = models.FloatField(null=True, blank=True)
    dough_until = models.FloatField(null=True, blank=True)
    room_c = models.FloatField(null=True, blank=True)
    bpo_percent = models.FloatField(null=True, blank=True)
    resumable = models.BooleanField(default=False)
    active = models.BooleanField(default=True)

    class Meta:
        ordering = ("name", "pk")

    def __str__(self) -> str:
        return self.name


class CureProgram(models.Model):
    """One version of a program for one resin; a version is never changed.

    ``document`` is ``domain.cure.program.Program`` as JSON. The highest version of a name is the
    one in use, unless ``retired_at`` is set.
    """

    resin = models.ForeignKey(Resin, on_delete=models.PROTECT, related_name="programs")
    name = models.CharField(max_length=60)
    version = models.PositiveIntegerField()
    document = models.JSONField()
    reason = models.CharField(max_length=200, blank=True, default="")
    saved_by = models.ForeignKey(
        "cases.Person", null=True, blank=True, on_delete=models.PROTECT, related_name="+"
    )
    saved_at = models.DateTimeField()
    retired_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        ordering = ("resin_id", "name", "-version")
        constraints = [
            models.UniqueConstraint(fields=["resin", "name", "version"], name="program_version")
        ]

    def __str__(self) -> str:
        return f"{self.name} {self.version}"


class Load(models.Model):
    """Flasks that share one bath for one program.

    ``state``: ``gathering`` (flasks are being added), ``running`` (they are in the bath, the
    heating may still wait for ``starts_at``), ``over`` (every flask has left it), ``cancelled``
    (never put in). ``ends_at`` is when the program is over, ``open_from`` when the flasks have
    cooled. ``more_minutes`` were added after a cut. ``sound`` is what was estimated before the
    start, with the model's version and what went into it; it is never reckoned anew. ``words``
    say why it went in although the estimate warned.
    """

    number = models.PositiveIntegerField(unique=True)
    bath = models.ForeignKey("cases.Bath", on_delete=models.PROTECT, related_name="loads")
    program = models.ForeignKey(CureProgram, on_delete=models.PROTECT, related_name="loads")
    state = models.CharField(max_length=12, default="gathering")
    made_at = models.DateTimeField()
    made_by = models.ForeignKey(
        "cases.Person", null=True, blank=True, on_delete=models.PROTECT, related_name="+"
    )
    placed_at = models.DateTimeField(null=True, blank=True)
    placed_by = models.ForeignKey(
        "cases.Person", null=True, blank=True, on_delete=models.PROTECT, related_name="+"
    )
    starts_at = models.DateTimeField(null=True, blank=True)
    ends_at = models.DateTimeField(null=True, blank=True)
    open_from = models.DateTimeField(null=True, blank=True)
    more_minutes = models.FloatField(default=0)
    sound = models.JSONField(default=dict, blank=True)
    words = models.CharField(max_length=400, blank=True, default="")
    version = models.PositiveIntegerField(default=1)

    class Meta:
        ordering = ("-number",)
        constraints = [
            models.UniqueConstraint(
                fields=["bath"], condition=models.Q(state="running"), name="one_load_a_bath"
            ),
            models.CheckConstraint(
                condition=models.Q(state__in=["gathering", "running", "over", "cancelled"]),
                name="load_state",
            ),
        ]

    def __str__(self) -> str:
        return f"Load {self.number}"


class LoadFlask(models.Model):
    """One flask of a load: whose case it holds and its thickest wax in millimetres.

    ``resin`` is what somebody said here that it is packed with, where nobody noted a mix.
    ``left_at`` is set when it was taken out of the load before the start, or left the bath.
    """

    load = models.ForeignKey(Load, on_delete=models.PROTECT, related_name="flasks")
    case = models.ForeignKey("cases.Case", on_delete=models.PROTECT, related_name="loads")
    stage = models.ForeignKey("cases.CaseStage", on_delete=models.PROTECT, related_name="loads")
    attempt = models.PositiveSmallIntegerField()
    flask = models.CharField(max_length=40, blank=True, default="")
    thickest_mm = models.FloatField(null=True, blank=True)
    resin = models.ForeignKey(
        Resin, null=True, blank=True, on_delete=models.PROTECT, related_name="+"
    )
    added_at = models.DateTimeField()
    left_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        ordering = ("pk",)
        constraints = [
            models.UniqueConstraint(
                fields=["stage"], condition=models.Q(left_at__isnull=True), name="flask_in_one_load"
            )
        ]

    def __str__(self) -> str:
        return f"{self.load} {self.flask}"


class BathRecord(models.Model):
    """A record of a bath as read for one load, and its verdict. Rows are never changed but for
    the decision, which is set once; a record that is read anew makes a further row.

    ``how``: ``file`` or ``typed``. ``layout`` says how the columns were read, as a person
    confirmed it. ``points`` is the record thinned for drawing (seconds, °C), ``verdict`` what
    ``domain.cure.verdict`` said, with its model version, constants and limits.
    """

    load = models.ForeignKey(Load, on_delete=models.PROTECT, related_name="records")
    how = models.CharField(max_length=8)
    sha256 = models.CharField(max_length=64, blank=True, default="")
    file_name = models.CharField(max_length=120, blank=True, default="")
    layout = models.JSONField(default=dict, blank=True)
    probe_at = models.CharField(max_length=12)
    started = models.CharField(max_length=40, blank=True, default="")
    points = models.JSONField(default=list)
    verdict = models.JSONField(default=dict)
    model_version = models.CharField(max_length=40)
    by = models.ForeignKey("cases.Person", on_delete=models.PROTECT, related_name="+")
    at = models.DateTimeField()
    decision = models.CharField(max_length=12, blank=True, default="")
    decision_words = models.CharField(max_length=400, blank=True, default="")
    decided_by = models.ForeignKey(
        "cases.Person", null=True, blank=True, on_delete=models.PROTECT, related_name="+"
    )
    decided_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        ordering = ("-pk",)

    def __str__(self) -> str:
        return f"{self.load} {self.how}"


class ProbeCheck(models.Model):
    """A probe of a bath held against a reference: by how much it reads high, in kelvin."""

    bath = models.ForeignKey("cases.Bath", on_delete=models.PROTECT, related_name="probe_checks")
    probe = models.CharField(max_length=40)
    checked_on = models.DateField()
    reads_high_k = models.FloatField()
    against = models.CharField(max_length=120)
    by = models.ForeignKey("cases.Person", on_delete=models.PROTECT, related_name="+")
    at = models.DateTimeField()

    class Meta:
        ordering = ("-checked_on", "-pk")

    def __str__(self) -> str:
        return f"{self.bath} {self.probe} {self.checked_on}"


class CureLimitsChange(models.Model):
    """A change of the limits by which the cure is judged and estimated. Rows are never changed.

    ``before`` and ``after`` hold what was changed, by key of ``domain.cure.settings``.
    """

    before = models.JSONField()
    after = models.JSONField()
    reason = models.CharField(max_length=200)
    by = models.ForeignKey("cases.Person", on_delete=models.PROTECT, related_name="+")
    at = models.DateTimeField()

    class Meta:
        ordering = ("-pk",)

    def __str__(self) -> str:
        return f"{', '.join(self.after)} {self.at}"
