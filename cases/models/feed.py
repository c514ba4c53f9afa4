"""Live temperatures of the baths, what became of them, and runs that measure a bath's lag."""

from __future__ import annotations

from django.db import models


class BathFeed(models.Model):
    """Where the live temperatures of a bath come from; ended, never deleted.

    ``kind``: ``file`` (a logger's CSV in the lab's folder of feeds) or ``post`` (whoever sends
    with its token, of which only a hash is kept). ``unit``, ``order`` and ``column`` settle what
    a file leaves open. ``offset``, ``head`` and ``layout`` say how far which file was read and
    how; ``trouble`` is the last thing that went wrong, in words. ``fault`` is what the clock saw to
    be wrong with the heat of the load in the bath when it looked last (``not-rising``,
    ``dropping``, ``silent``); empty while nothing is, or no load is in the bath.
    """

    bath = models.ForeignKey("cases.Bath", on_delete=models.PROTECT, related_name="feeds")
    kind = models.CharField(max_length=4)
    file_name = models.CharField(max_length=120, blank=True, default="")
    unit = models.CharField(max_length=1, default="C")
    order = models.CharField(max_length=3, blank=True, default="")
    column = models.CharField(max_length=60, blank=True, default="")
    probe = models.CharField(max_length=40, blank=True, default="")
    token_hash = models.CharField(max_length=64, blank=True, default="")
    made_at = models.DateTimeField()
    made_by = models.ForeignKey("cases.Person", on_delete=models.PROTECT, related_name="+")
    ended_at = models.DateTimeField(null=True, blank=True)
    ended_by = models.ForeignKey(
        "cases.Person", null=True, blank=True, on_delete=models.PROTECT, related_name="+"
    )
    offset = models.BigIntegerField(default=0)
    head = models.CharField(max_length=80, blank=True, default="")
    layout = models.JSONField(null=True, blank=True)
    last_at = models.DateTimeField(null=True, blank=True)
    last_celsius = models.FloatField(null=True, blank=True)
    trouble = models.CharField(max_length=400, blank=True, default="")
    fault = models.CharField(max_length=12, blank=True, default="")

    class Meta:
        ordering = ("bath_id", "-pk")
        constraints = [
            models.UniqueConstraint(
                fields=["bath"], condition=models.Q(ended_at__isnull=True), name="one_feed_a_bath"
            ),
            models.UniqueConstraint(
                fields=["file_name"],
                condition=models.Q(kind="file", ended_at__isnull=True),
                name="one_bath_a_file",
            ),
            models.UniqueConstraint(
                fields=["token_hash"], condition=models.Q(kind="post"), name="feed_token_once"
            ),
            models.CheckConstraint(
                condition=(models.Q(kind="file", token_hash="") & ~models.Q(file_name=""))
                | (models.Q(kind="post", file_name="") & ~models.Q(token_hash="")),
                name="feed_of_file_or_token",
            ),
            models.CheckConstraint(condition=models.Q(unit__in=["C", "F"]), name="feed_unit"),
        ]

    def __str__(self) -> str:
        return f"{self.bath} {self.kind}"


class BathSample(models.Model):
    """One temperature of a bath: a measurement, which nobody decided, so it has no event.

    At most one in ten seconds (``slot``, counted from 1970) is kept, so that the same rows sent
    twice are one, and for two weeks; what a load asks for is kept with the load.
    """

    bath = models.ForeignKey("cases.Bath", on_delete=models.CASCADE, related_name="samples")
    slot = models.BigIntegerField()
    at = models.DateTimeField()
    celsius = models.FloatField()

    class Meta:
        ordering = ("bath_id", "slot")
        constraints = [
            models.UniqueConstraint(fields=["bath", "slot"], name="one_sample_a_slot"),
            models.CheckConstraint(
                condition=models.Q(celsius__gte=-50, celsius__lte=130), name="sample_of_a_bath"
            ),
        ]
        indexes = [models.Index(fields=["at"], name="sample_at")]

    def __str__(self) -> str:
        return f"{self.bath_id} {self.at:%Y-%m-%d %H:%M:%S} {self.celsius:g}"


class LoadTrace(models.Model):
    """The live temperatures of a load that is over, put down as a raw record of its bath.

    A person still confirms that it is judged; until then it is only offered.
    """

    load = models.OneToOneField("cases.Load", on_delete=models.PROTECT, related_name="trace")
    sha256 = models.CharField(max_length=64)
    readings = models.PositiveIntegerField()
    first_at = models.DateTimeField()
    last_at = models.DateTimeField()
    probe = models.CharField(max_length=40, blank=True, default="")
    made_at = models.DateTimeField()

    class Meta:
        ordering = ("-pk",)
        constraints = [
            models.CheckConstraint(condition=models.Q(readings__gte=2), name="trace_of_readings")
        ]

    def __str__(self) -> str:
        return f"{self.load} {self.readings}"


class LagRun(models.Model):
    """A run with one probe in the bath and one in a dummy flask, and the lag fitted to it.

    ``sha256`` is the raw record; ``flask_sha256`` that of the flask where it came in a file of
    its own. ``points`` are both records thinned for drawing. A row is never changed.
    """

    bath = models.ForeignKey("cases.Bath", on_delete=models.PROTECT, related_name="lag_runs")
    how = models.CharField(max_length=8)
    sha256 = models.CharField(max_length=64)
    flask_sha256 = models.CharField(max_length=64, blank=True, default="")
    layout = models.JSONField(default=dict)
    ran_on = models.DateField()
    minutes = models.FloatField()
    rms_k = models.FloatField()
    points = models.JSONField(default=dict)
    model_version = models.CharField(max_length=40)
    by = models.ForeignKey("cases.Person", on_delete=models.PROTECT, related_name="+")
    at = models.DateTimeField()

    class Meta:
        ordering = ("-pk",)
        constraints = [
            models.CheckConstraint(condition=models.Q(minutes__gt=0), name="lag_above_zero")
        ]

    def __str__(self) -> str:
        return f"{self.bath} {self.minutes:.1f} min"
