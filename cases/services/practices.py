"""The practices that order, the dentists who prescribe, and who of them may sign in."""

from __future__ import annotations

import re
from datetime import time
from typing import Any

from django.utils.text import slugify
from django.utils.translation import gettext as _

from cases.domain.order_choices import BORDERS, POLISH, values
from cases.models import Dentist, DentistAt, Person, Practice, PracticeMember
from cases.services.record import Recorder, Refusal, verb

CODE = re.compile(r"[A-Z0-9]{1,8}")
DEFAULT_CUT_OFF = "16:00"
WORKING_WEEK = (0, 1, 2, 3, 4)
LONGEST_TRANSIT_DAYS = 30


def free_code(name: str) -> str:
    """Return a code for a practice from the first letters of its name, not taken yet."""
    words = slugify(name).upper().split("-")
    base = "".join(word[0] for word in words if word)[:4] or "P"
    code, number = base, 2
    while Practice.objects.filter(code=code).exists():
        code, number = f"{base}{number}", number + 1
    return code


def _practice(practice: int) -> Practice:
    row = Practice.objects.select_for_update().filter(pk=practice).first()
    if row is None:
        raise Refusal("no-practice", _("There is no such practice. Load the page again."))
    return row


def _columns(
    practice: int | None,
    *,
    name: str,
    code: str = "",
    address: str = "",
    phone: str = "",
    van_route: str = "",
    ship_weekdays: list[int] | None = None,
    transit_days: int = 0,
    cut_off: str = DEFAULT_CUT_OFF,
    usual_borders: str = "",
    usual_polish: str = "",
) -> dict[str, Any]:
    """Return the columns of a practice, or refuse them beside their field."""
    name, code = name.strip(), code.strip().upper()
    if not name or len(name) > 80:
        raise Refusal("no-name", _("Enter a name of at most 80 signs."), field="name")
    code = code or free_code(name)
    if not CODE.fullmatch(code):
        raise Refusal("bad-code", _("A code has 1 to 8 letters and digits."), field="code")
    others = Practice.objects.exclude(pk=practice or 0)
    if others.filter(code=code).exists():
        raise Refusal("code-taken", _("Another practice has this code."), field="code")
    if others.filter(name__iexact=name, active=True).exists():
        raise Refusal("name-taken", _("There is a practice with this name."), field="name")
    days = sorted(set(WORKING_WEEK if ship_weekdays is None else ship_weekdays))
    if not days or not set(days) <= set(range(7)):
        raise Refusal(
            "no-days", _("Choose the days on which the van leaves for it."), field="ship_weekdays"
        )
    if not 0 <= transit_days <= LONGEST_TRANSIT_DAYS:
        raise Refusal("bad-transit", _("Enter 0 to 30 working days."), field="transit_days")
    if usual_borders and usual_borders not in values(BORDERS):
        raise Refusal("bad-choice", _("Choose one of the list."), field="usual_borders")
    if usual_polish and usual_polish not in values(POLISH):
        raise Refusal("bad-choice", _("Choose one of the list."), field="usual_polish")
    return {
        "name": name,
        "code": code,
        "address": address.strip(),
        "phone": phone.strip()[:40],
        "van_route": van_route.strip()[:40],
        "ship_weekdays": days,
        "transit_days": transit_days,
        "cut_off": time.fromisoformat(cut_off),
        "usual_borders": usual_borders,
        "usual_polish": usual_polish,
    }


@verb("practice.add", may="log-cases")
def add_practice(record: Recorder, *, name: str, **columns: Any) -> dict[str, Any]:
    """Add a practice; only its name must be known, everything else has a usual value.

    ``columns``: code, address, phone, van_route, ship_weekdays (0 Monday …), transit_days
    (working days until the box is there), cut_off ("16:00", local), usual_borders, usual_polish.
    """
    ready = _columns(None, name=name, **columns)
    record.event("practice.added", subject=ready["code"])
    row = record.create(Practice, **ready)
    return {"practice": row.pk, "code": row.code}


@verb("practice.change", may="settings")
def change_practice(record: Recorder, *, practice: int, **columns: Any) -> dict[str, Any]:
    """Change a practice; promises given before stay as they were given."""
    row = _practice(practice)
    ready = _columns(practice, **columns)
    record.event("practice.changed", subject=row.code)
    record.change(row, **ready)
    return {"practice": row.pk}


@verb("practice.close", may="settings")
def close_practice(record: Recorder, *, practice: int) -> dict[str, Any]:
    """Take a practice off the lists; refused while it has cases here."""
    row = _practice(practice)
    if not row.active:
        raise Refusal("not-active", _("%(name)s is off the lists.") % {"name": row.name})
    count = row.cases.filter(state__in=["open", "packed"]).count()
    if count:
        raise Refusal(
            "open-cases",
            _("%(name)s has %(count)s cases in the laboratory. Send or cancel them first.")
            % {"name": row.name, "count": count},
        )
    record.event("practice.closed", subject=row.code)
    record.change(row, active=False)
    return {"practice": row.pk}


@verb("practice.open", may="settings")
def open_practice(record: Recorder, *, practice: int) -> dict[str, Any]:
    """Put a practice on the lists again."""
    row = _practice(practice)
    if row.active:
        raise Refusal("active", _("%(name)s is on the lists.") % {"name": row.name})
    record.event("practice.opened", subject=row.code)
    record.change(row, active=True)
    return {"practice": row.pk}


def _practices(practices: list[int]) -> list[Practice]:
    rows = list(Practice.objects.filter(pk__in=practices))
    if not rows or len(rows) != len(set(practices)):
        raise Refusal("no-practice", _("Choose the practice where they work."), field="practices")
    return rows


def _dentist_name(name: str) -> str:
    name = name.strip()
    if not name or len(name) > 80:
        raise Refusal("no-name", _("Enter a name of at most 80 signs."), field="name")
    return name


@verb("dentist.add", may="log-cases")
def add_dentist(
    record: Recorder, *, name: str, practices: list[int], licence: str = ""
) -> dict[str, Any]:
    """Add somebody who prescribes, at one or more practices."""
    name = _dentist_name(name)
    places = _practices(practices)
    double = DentistAt.objects.filter(
        practice__in=places, dentist__name__iexact=name, dentist__active=True
    )
    if double.exists():
        raise Refusal("name-taken", _("This dentist is there already."), field="name")
    record.event("dentist.added")
    row = record.create(Dentist, name=name, licence=licence.strip()[:40])
    for place in places:
        record.create(DentistAt, dentist=row, practice=place)
    return {"dentist": row.pk}


@verb("dentist.change", may="settings")
def change_dentist(
    record: Recorder,
    *,
    dentist: int,
    name: str,
    practices: list[int],
    licence: str = "",
    active: bool = True,
) -> dict[str, Any]:
    """Change a dentist; who signs in sees the cases of the practices named here, no others."""
    row = (
        Dentist.objects.select_for_update(of=("self",))
        .select_related("person")
        .filter(pk=dentist)
        .first()
    )
    if row is None:
        raise Refusal("no-dentist", _("There is no such dentist. Load the page again."))
    name = _dentist_name(name)
    places = {place.pk: place for place in _practices(practices)}
    record.event("dentist.changed", subject=str(row.pk))
    record.change(row, name=name, licence=licence.strip()[:40], active=active)
    at = {place.practice_id: place for place in row.places.all()}
    for pk in at.keys() - places.keys():
        record.remove(at[pk])
    for pk in sorted(places.keys() - at.keys()):
        record.create(DentistAt, dentist=row, practice=places[pk])
    if row.person is not None:
        _set_memberships(record, row.person, places)
        record.change(row.person, name=name[:60], active=active)
    return {"dentist": row.pk}


def _set_memberships(record: Recorder, person: Person, places: dict[int, Practice]) -> None:
    held = {member.practice_id: member for member in person.memberships.all()}
    for pk in held.keys() - places.keys():
        record.remove(held[pk])
    for pk in sorted(places.keys() - held.keys()):
        record.create(PracticeMember, person=person, practice=places[pk])


@verb("dentist.sign-in", may="settings")
def give_dentist_sign_in(record: Recorder, *, dentist: int) -> dict[str, Any]:
    """Let a dentist sign in (after an invitation) and see the cases of their practices."""
    row = Dentist.objects.select_for_update().filter(pk=dentist, active=True).first()
    if row is None:
        raise Refusal("no-dentist", _("There is no such dentist. Load the page again."))
    if row.person_id is not None:
        raise Refusal("has-one", _("%(name)s has a sign-in.") % {"name": row.name})
    record.event("dentist.sign-in-given", subject=str(row.pk))
    person = record.create(Person, name=row.name[:60], is_dentist=True)
    record.change(row, person=person)
    for place in row.places.select_related("practice"):
        record.create(PracticeMember, person=person, practice=place.practice)
    return {"dentist": row.pk, "person": person.pk}


@verb("practice.add-reception", may="settings")
def add_reception(record: Recorder, *, practice: int, name: str) -> dict[str, Any]:
    """Add somebody of a practice's reception, who answers dates and shades, not designs."""
    row = _practice(practice)
    name = name.strip()
    if not name or len(name) > 60:
        raise Refusal("no-name", _("Enter a name of at most 60 signs."), field="name")
    same = row.members.filter(person__name__iexact=name, person__active=True)
    if same.exists():
        raise Refusal("name-taken", _("This name is there already."), field="name")
    record.event("practice.reception-added", subject=row.code)
    person = record.create(Person, name=name, is_reception=True)
    record.create(PracticeMember, person=person, practice=row)
    return {"practice": row.pk, "person": person.pk}


@verb("practice.remove-reception", may="settings")
def remove_reception(record: Recorder, *, practice: int, person: int) -> dict[str, Any]:
    """Let somebody of a practice's reception in no more."""
    row = _practice(practice)
    member = row.members.select_related("person").filter(person=person).first()
    if member is None or not member.person.is_reception:
        raise Refusal("no-member", _("This person is not of that reception any more."))
    record.event("practice.reception-removed", subject=row.code)
    record.remove(member)
    if not member.person.memberships.exists():
        record.change(member.person, active=False)
        for open_link in member.person.invitations.filter(used_at__isnull=True):
            record.change(open_link, expires_at=record.now)
    return {"practice": row.pk}
