"""The people of the laboratory: roles, skills, shifts, absences, PINs, coming and going."""

from __future__ import annotations

from datetime import date
from decimal import Decimal, InvalidOperation
from typing import Any

from django.utils.translation import gettext as _

from cases.domain.teeth import SYSTEMS
from cases.models import Absence, Person, PersonSkill, Shift, Skill
from cases.selectors.people import lab_people
from cases.services.lab import read_spans
from cases.services.record import Envelope, Outcome, Recorder, Refusal, verb
from cases.services.secrets import fingerprint, good_pin, hidden, is_right

LAB_ROLES = ("desk", "technician", "manager")
LONGEST_OVERTIME = 240
"""Minutes after a shift that may be planned at most. Judgement; the law of the place holds."""


def _person(person: int) -> Person:
    row = Person.objects.select_for_update().filter(pk=person).first()
    if row is None:
        raise Refusal("no-person", _("There is no such person. Load the page again."))
    return row


def _flags(name: str, roles: list[str], student: bool, person: int | None) -> dict[str, Any]:
    """Return the columns of a person of the lab, or refuse them."""
    name = name.strip()
    if not name or len(name) > 60:
        raise Refusal("no-name", _("Enter a name of at most 60 signs."), field="name")
    same = lab_people().filter(name__iexact=name, active=True).exclude(pk=person or 0)
    if same.exists():
        raise Refusal(
            "name-taken",
            _("Somebody here has this name. Add a letter or a second name, so that the right "
              "one is tapped."),
            field="name",
        )  # fmt: skip
    unknown = set(roles) - set(LAB_ROLES)
    if unknown or not roles:
        raise Refusal("no-role", _("Choose one role at least."), field="roles")
    if student and "technician" not in roles:
        raise Refusal(
            "student", _("A student is a technician too: choose that role."), field="is_student"
        )
    return {
        "name": name,
        "is_student": student,
        **{f"is_{role}": role in roles for role in LAB_ROLES},
    }


@verb("person.add", may="settings")
def add_person(
    record: Recorder, *, name: str, roles: list[str], is_student: bool = False
) -> dict[str, Any]:
    """Add somebody who works in the laboratory."""
    flags = _flags(name, roles, is_student, None)
    record.event("person.added")
    row = record.create(Person, **flags)
    return {"person": row.pk}


@verb("person.change", may="settings")
def change_person(
    record: Recorder, *, person: int, name: str, roles: list[str], is_student: bool = False
) -> dict[str, Any]:
    """Change a person's name and roles; the last manager stays one."""
    row = _person(person)
    flags = _flags(name, roles, is_student, person)
    if row.is_manager and not flags["is_manager"]:
        _need_other_manager(row, "roles")
    record.event("person.changed", subject=str(row.pk))
    record.change(row, **flags)
    return {"person": row.pk}


def _need_other_manager(row: Person, field: str = "") -> None:
    # All managers are locked, so two of them cannot retire each other at the same moment.
    managers = Person.objects.select_for_update().filter(is_manager=True, active=True)
    others = [other for other in managers if other.pk != row.pk and other.user_id is not None]
    if not others:
        raise Refusal(
            "last-manager",
            _("%(name)s is the last manager who can sign in. Make somebody else a manager first.")
            % {"name": row.name},
            field=field,
        )


@verb("person.deactivate", may="settings")
def deactivate(record: Recorder, *, person: int) -> dict[str, Any]:
    """Let a person in no more; everything they did stays under their name."""
    row = _person(person)
    if not row.active:
        raise Refusal("not-active", _("%(name)s cannot sign in already.") % {"name": row.name})
    if row.is_manager:
        _need_other_manager(row)
    busy = row.spans.filter(ended_at__isnull=True).exists()
    if busy:
        raise Refusal(
            "busy",
            _("%(name)s has a stage running. Hand on the work first.") % {"name": row.name},
        )
    record.event("person.deactivated", subject=str(row.pk))
    record.change(row, active=False)
    for session in row.bench_sessions.filter(closed_at__isnull=True):
        record.change(session, closed_at=record.now, closed_how="revoked")
    for invitation in row.invitations.filter(used_at__isnull=True, expires_at__gt=record.now):
        record.change(invitation, expires_at=record.now)
    if row.user is not None:
        row.user.is_active = False
        row.user.save(update_fields=["is_active"])
    return {"person": row.pk}


@verb("person.activate", may="settings")
def activate(record: Recorder, *, person: int) -> dict[str, Any]:
    """Let a person in again."""
    row = _person(person)
    if row.active:
        raise Refusal("active", _("%(name)s can come in already.") % {"name": row.name})
    record.event("person.activated", subject=str(row.pk))
    record.change(row, active=True, pin_failures=0, pin_locked_until=None)
    if row.user is not None:
        row.user.is_active = True
        row.user.save(update_fields=["is_active"])
    return {"person": row.pk}


def _speed(text: Any) -> Decimal:
    try:
        speed = Decimal(str(text)).quantize(Decimal("0.01"))
    except InvalidOperation:
        speed = Decimal(0)
    if not Decimal("0.10") <= speed <= Decimal("5.00"):
        raise Refusal(
            "bad-speed",
            _("A speed lies between 0.1 and 5; 1 is the laboratory's standard, 0.5 takes twice "
              "as long."),
            field="skills",
        )  # fmt: skip
    return speed


@verb("person.skills", may="settings")
def set_skills(record: Recorder, *, person: int, skills: list[dict[str, Any]]) -> dict[str, Any]:
    """Set what a person can do: ``[{"skill": "wax", "speed": "1.0", "countersign": true}]``."""
    row = _person(person)
    if not row.is_technician and skills:
        raise Refusal("no-technician", _("Only a technician has skills of the bench."))
    known = {skill.key: skill for skill in Skill.objects.all()}
    wanted: dict[str, tuple[Decimal, bool]] = {}
    for item in skills:
        if item["skill"] not in known:
            raise Refusal("no-skill", _("There is no such skill. Load the page again."))
        signs = bool(item.get("countersign", False))
        if signs and row.is_student:
            raise Refusal("student", _("A student does not countersign."), field="skills")
        wanted[item["skill"]] = (_speed(item.get("speed", "1")), signs)
    record.event("person.skills-set", subject=str(row.pk))
    for held in row.skills.select_related("skill"):
        if held.skill.key in wanted:
            speed, signs = wanted.pop(held.skill.key)
            record.change(held, speed=speed, may_countersign=signs)
        else:
            record.remove(held)
    for key, (speed, signs) in wanted.items():
        record.create(PersonSkill, person=row, skill=known[key], speed=speed, may_countersign=signs)
    return {"person": row.pk}


@verb("person.shifts", may="settings")
def set_shifts(record: Recorder, *, person: int, shifts: list[list[Any]]) -> dict[str, Any]:
    """Set when a person works: ``[[weekday, "08:00", "12:00"], …]``."""
    row = _person(person)
    wanted = set(read_spans(shifts))
    record.event("person.shifts-set", subject=str(row.pk))
    for shift in row.shifts.all():
        span = (shift.weekday, shift.begins, shift.ends)
        if span in wanted:
            wanted.remove(span)
        else:
            record.remove(shift)
    for weekday, begins, ends in sorted(wanted):
        record.create(Shift, person=row, weekday=weekday, begins=begins, ends=ends)
    return {"person": row.pk}


@verb("person.overtime", may="settings")
def set_overtime(record: Recorder, *, person: int, minutes: int | None) -> dict[str, Any]:
    """Say how long after a shift of a person may be planned.

    Parameters
    ----------
    minutes
        0 for not at all, None for what the lab says.

    Raises
    ------
    Refusal
        ``no-person``, ``no-technician``, ``bad-minutes``.
    """
    row = _person(person)
    if not row.is_technician:
        raise Refusal("no-technician", _("Only of a technician is anything planned."))
    if minutes is not None and not 0 <= minutes <= LONGEST_OVERTIME:
        raise Refusal(
            "bad-minutes", _("Enter minutes between 0 and 240 after a shift."), field="minutes"
        )
    record.event("person.overtime-set", subject=str(row.pk), minutes=minutes)
    record.change(row, overtime_minutes=minutes)
    return {"person": row.pk}


@verb("absence.add", may="settings")
def add_absence(
    record: Recorder, *, person: int, first_on: str, last_on: str, words: str = ""
) -> dict[str, Any]:
    """Note that a person is away on these days, both included.

    ``words`` is seen by the managers only; it is no place for an illness.
    """
    row = _person(person)
    first, last = date.fromisoformat(first_on), date.fromisoformat(last_on)
    if last < first:
        raise Refusal("bad-days", _("The last day lies before the first one."), field="last_on")
    double = row.absences.filter(first_on__lte=last, last_on__gte=first).first()
    if double is not None:
        raise Refusal(
            "overlap",
            _("%(name)s is away on some of these days already. Remove that entry first.")
            % {"name": row.name},
            field="first_on",
        )
    record.event("absence.added", subject=str(row.pk))
    absence = record.create(
        Absence, person=row, first_on=first, last_on=last, words=words.strip()[:80]
    )
    return {"absence": absence.pk, "person": row.pk}


@verb("absence.remove", may="settings")
def remove_absence(record: Recorder, *, absence: int) -> dict[str, Any]:
    """Take an absence back."""
    row = Absence.objects.select_for_update().filter(pk=absence).first()
    if row is None:
        raise Refusal("no-absence", _("This entry was taken back already."))
    record.event("absence.removed", subject=str(row.person_id))
    record.remove(row)
    return {"person": row.person_id}


@verb("person.numbering", may=None)
def choose_numbering(record: Recorder, *, system: str) -> dict[str, Any]:
    """Keep the tooth numbering that somebody reads and writes, wherever they sign in.

    Everybody who is known here chooses for themselves.

    Raises
    ------
    Refusal
        ``no-person`` where nobody is signed in, ``not-active``, ``no-numbering`` for another one.
    """
    row = _person(record.actor.pk)
    if not row.active:
        raise Refusal("not-active", _("%(name)s cannot sign in already.") % {"name": row.name})
    if system not in SYSTEMS:
        raise Refusal("no-numbering", _("Choose one of the numberings."), field="numbering")
    record.event("person.numbering-chosen", subject=str(row.pk), system=system)
    record.change(row, notation=system)
    return {"person": row.pk}


def set_pin(envelope: Envelope, *, person: int, pin: str) -> Outcome:
    """Give a person a new PIN (by a manager); also unlocks it.

    Raises
    ------
    Refusal
        ``bad-pin``, ``no-technician``.
    """
    return _set_pin(envelope, person=person, pin_hash=hidden(envelope, good_pin(pin)))


@verb("person.pin", may="settings")
def _set_pin(record: Recorder, *, person: int, pin_hash: str) -> dict[str, Any]:
    row = _person(person)
    if not row.is_technician:
        raise Refusal("no-technician", _("Only a technician opens a tablet."), field="pin")
    record.event("person.pin-set", subject=str(row.pk))
    record.change(row, pin_hash=pin_hash, pin_failures=0, pin_locked_until=None)
    return {"person": row.pk}


def change_own_pin(envelope: Envelope, *, old: str, new: str) -> Outcome:
    """Set one's own PIN anew.

    Raises
    ------
    Refusal
        ``wrong-pin`` for the old one, ``bad-pin`` for the new one.
    """
    person = Person.objects.filter(pk=envelope.person_id or 0).first()
    if person is None:
        raise Refusal("no-person", _("Nobody is signed in. Sign in and try again."))
    new = good_pin(new, field="new")
    return _change_own_pin(
        envelope,
        right=is_right(old.strip(), person.pin_hash),
        against=fingerprint(person.pin_hash),
        pin_hash=hidden(envelope, new),
    )


@verb("person.own-pin", may="work")
def _change_own_pin(
    record: Recorder, *, right: bool, against: str, pin_hash: str
) -> dict[str, Any]:
    row = _person(record.actor.pk)
    if row.pin_hash and (not right or against != fingerprint(row.pin_hash)):
        raise Refusal("wrong-pin", _("This is not your present PIN."), field="old")
    record.event("person.pin-changed", subject=str(row.pk))
    record.change(row, pin_hash=pin_hash, pin_failures=0, pin_locked_until=None)
    return {"person": row.pk}
