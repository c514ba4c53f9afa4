"""The lab itself and everybody who works in it or with it."""

from __future__ import annotations

from django.conf import settings
from django.db import models
from django.utils.translation import gettext_lazy as _

from cases.domain.teeth import SYSTEMS


class Lab(models.Model):
    """The one laboratory of this installation (a single row).

    ``lock_puts_down``: a tablet that locks puts down what its person has in hand.
    ``rule_limits``: limits of design rules that the lab changed, by rule and name.
    ``cure_limits``: limits of the cure that the lab changed, by key (``domain.cure.settings``).
    ``altitude_m``: metres above the sea; it decides at what temperature a bath boils.
    ``plan_seconds`` is how long the planner may improve one plan, ``plan_overtime`` whether it
    may plan ``plan_overtime_minutes`` after the shift of everybody for whom nothing else is said;
    ``rush_weight`` and ``remake_weight`` are how many times a
    minute of lateness of such a case counts.
    """

    name = models.CharField(max_length=80)
    address = models.TextField(blank=True, default="")
    zone = models.CharField(max_length=64, default="Europe/Vienna")
    notation = models.CharField(max_length=12, default="fdi")
    paper = models.CharField(max_length=16, default="a5")
    required_profile = models.CharField(max_length=40, default="longest")
    idle_lock_minutes = models.PositiveSmallIntegerField(default=5)
    lock_puts_down = models.BooleanField(default=True)
    nudge_after_minutes = models.PositiveSmallIntegerField(default=90)
    rule_limits = models.JSONField(default=dict, blank=True)
    cure_limits = models.JSONField(default=dict, blank=True)
    altitude_m = models.IntegerField(default=0)
    plan_seconds = models.PositiveSmallIntegerField(default=20)
    plan_overtime = models.BooleanField(default=False)
    plan_overtime_minutes = models.PositiveSmallIntegerField(default=60)
    rush_weight = models.FloatField(default=4)
    remake_weight = models.FloatField(default=2)
    set_up_at = models.DateTimeField(null=True, blank=True)

    def __str__(self) -> str:
        return self.name


class OpenHours(models.Model):
    """Hours in which people are in the lab on one weekday (0 Monday … 6 Sunday)."""

    weekday = models.PositiveSmallIntegerField()
    opens = models.TimeField()
    closes = models.TimeField()

    class Meta:
        ordering = ("weekday", "opens", "pk")
        constraints = [
            models.CheckConstraint(
                condition=models.Q(closes__gt=models.F("opens")), name="open_hours_in_order"
            ),
            models.UniqueConstraint(fields=["weekday", "opens"], name="open_hours_once"),
        ]

    def __str__(self) -> str:
        return f"{self.weekday} {self.opens}–{self.closes}"


class ClosedDay(models.Model):
    """A day on which the lab is closed whatever the weekday says."""

    day = models.DateField(unique=True)
    words = models.CharField(max_length=80)

    class Meta:
        ordering = ("day",)

    def __str__(self) -> str:
        return f"{self.day} {self.words}"


class Person(models.Model):
    """Somebody who uses labflow; one person may have several roles.

    ``notation``: the tooth numbering they read and write; empty for the lab's.
    ``overtime_minutes``: how long after a shift may be planned; 0 for not at all, None for what
    the lab says.
    """

    user = models.OneToOneField(
        settings.AUTH_USER_MODEL, null=True, blank=True, on_delete=models.PROTECT
    )
    name = models.CharField(max_length=60)
    is_desk = models.BooleanField(default=False)
    is_technician = models.BooleanField(default=False)
    is_manager = models.BooleanField(default=False)
    is_dentist = models.BooleanField(default=False)
    is_reception = models.BooleanField(default=False)
    is_student = models.BooleanField(default=False)
    notation = models.CharField(max_length=12, blank=True, default="")
    pin_hash = models.CharField(max_length=160, blank=True, default="")
    pin_failures = models.PositiveSmallIntegerField(default=0)
    pin_locked_until = models.DateTimeField(null=True, blank=True)
    active = models.BooleanField(default=True)
    overtime_minutes = models.PositiveSmallIntegerField(null=True, blank=True)

    class Meta:
        ordering = ("name", "pk")
        constraints = [
            models.CheckConstraint(
                condition=models.Q(notation__in=("", *SYSTEMS)), name="person_notation_is_known"
            ),
        ]

    def __str__(self) -> str:
        return self.name

    @property
    def roles(self) -> tuple[str, ...]:
        """Return the role keys of this person (see ``cases.domain.rights``)."""
        flags = {
            "desk": self.is_desk,
            "technician": self.is_technician,
            "manager": self.is_manager,
            "dentist": self.is_dentist,
            "reception": self.is_reception,
        }
        return tuple(role for role, held in flags.items() if held)


class Skill(models.Model):
    """A kind of bench work that not everybody has."""

    key = models.SlugField(unique=True, max_length=30)
    name = models.CharField(max_length=60)

    class Meta:
        ordering = ("name", "pk")

    def __str__(self) -> str:
        return self.name


class PersonSkill(models.Model):
    """A person has a skill; ``speed`` 1.0 is the lab's standard, 0.5 takes twice as long."""

    person = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="skills")
    skill = models.ForeignKey(Skill, on_delete=models.PROTECT, related_name="people")
    speed = models.DecimalField(max_digits=3, decimal_places=2, default=1)
    may_countersign = models.BooleanField(default=False)

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["person", "skill"], name="person_skill_once"),
            models.CheckConstraint(condition=models.Q(speed__gt=0), name="person_skill_speed"),
        ]

    def __str__(self) -> str:
        return f"{self.person}: {self.skill}"


class Shift(models.Model):
    """When a person works on one weekday."""

    person = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="shifts")
    weekday = models.PositiveSmallIntegerField()
    begins = models.TimeField()
    ends = models.TimeField()

    class Meta:
        ordering = ("person_id", "weekday", "begins", "pk")
        constraints = [
            models.CheckConstraint(
                condition=models.Q(ends__gt=models.F("begins")), name="shift_in_order"
            )
        ]

    def __str__(self) -> str:
        return f"{self.person} {self.weekday} {self.begins}–{self.ends}"


class Absence(models.Model):
    """Days on which a person is away, both ends included."""

    person = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="absences")
    first_on = models.DateField()
    last_on = models.DateField()
    words = models.CharField(max_length=80, blank=True, default="")

    class Meta:
        ordering = ("first_on", "pk")
        constraints = [
            models.CheckConstraint(
                condition=models.Q(last_on__gte=models.F("first_on")), name="absence_in_order"
            )
        ]

    def __str__(self) -> str:
        return f"{self.person} {self.first_on}–{self.last_on}"


class Invitation(models.Model):
    """A one-time link by which a person chooses a user name and password."""

    person = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="invitations")
    token_hash = models.CharField(max_length=64, unique=True)
    email = models.EmailField(blank=True, default="")
    made_at = models.DateTimeField()
    expires_at = models.DateTimeField()
    used_at = models.DateTimeField(null=True, blank=True)

    def __str__(self) -> str:
        return str(_("Invitation for %(name)s") % {"name": self.person})


class Tablet(models.Model):
    """A shared device at the bench, enrolled once by a manager."""

    name = models.CharField(max_length=40)
    station = models.ForeignKey(
        "cases.Station", null=True, blank=True, on_delete=models.PROTECT, related_name="tablets"
    )
    token_hash = models.CharField(max_length=64, unique=True)
    enrolled_by = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+")
    enrolled_at = models.DateTimeField()
    revoked_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        ordering = ("name", "pk")

    def __str__(self) -> str:
        return self.name


class BenchSession(models.Model):
    """A person at a tablet, from PIN to lock."""

    tablet = models.ForeignKey(Tablet, on_delete=models.PROTECT, related_name="sessions")
    person = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="bench_sessions")
    opened_at = models.DateTimeField()
    seen_at = models.DateTimeField()
    closed_at = models.DateTimeField(null=True, blank=True)
    closed_how = models.CharField(max_length=12, blank=True, default="")

    class Meta:
        constraints = [
            models.UniqueConstraint(
                fields=["tablet"],
                condition=models.Q(closed_at__isnull=True),
                name="one_open_bench_session_a_tablet",
            )
        ]

    def __str__(self) -> str:
        return f"{self.person} @ {self.tablet}"
