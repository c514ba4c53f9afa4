"""Set the laboratory up: its profile, its first manager, and what the default route needs."""

from __future__ import annotations

from datetime import time
from typing import Any
from zoneinfo import available_timezones

from django.contrib.auth.models import User
from django.utils.translation import gettext as _

from cases.domain.order_profiles import REQUIRED_PROFILES
from cases.domain.route import SKILLS, STATIONS, default_template
from cases.domain.teeth import SYSTEMS
from cases.models import Lab, OpenHours, Person, RouteVersion, Skill, Station
from cases.services.accounts import good_username
from cases.services.record import Envelope, Outcome, Recorder, Refusal, verb
from cases.services.secrets import good_password, hidden

PAPERS = ("a5", "letter-half")
DEFAULT_HOURS = tuple((weekday, "08:00", "17:00") for weekday in range(5))
"""Monday to Friday, until the laboratory enters its own. Judgement."""


def clean_profile(
    *, name: str, zone: str, notation: str, paper: str, required_profile: str
) -> None:
    """Refuse a profile that the rest of the program could not read.

    Raises
    ------
    Refusal
        Beside the field concerned.
    """
    if not name.strip():
        raise Refusal("no-name", _("Enter the name of the laboratory."), field="name")
    if zone not in available_timezones():
        raise Refusal("bad-zone", _("Choose a time zone from the list."), field="zone")
    if notation not in SYSTEMS:
        raise Refusal("bad-notation", _("Choose how teeth are numbered."), field="notation")
    if paper not in PAPERS:
        raise Refusal("bad-paper", _("Choose a paper size."), field="paper")
    if required_profile not in REQUIRED_PROFILES:
        raise Refusal(
            "bad-profile", _("Choose which entries an order must have."), field="required_profile"
        )


def set_up(
    envelope: Envelope,
    *,
    name: str,
    zone: str = "Europe/Vienna",
    address: str = "",
    notation: str = "fdi",
    paper: str = "a5",
    required_profile: str = "longest",
    manager: str = "",
    username: str = "",
    password: str = "",
    email: str = "",
) -> Outcome:
    """Make the laboratory of this installation; there is only one.

    Creates the default skills, stations, opening hours and route version 1, and with a
    ``manager`` name the first manager with a user name and password.

    Returns
    -------
    Outcome
        ``lab``, ``manager`` (primary keys; manager None without a name), ``route``.

    Raises
    ------
    Refusal
        ``set-up-before``, or beside the field that is wrong.
    """
    if manager:
        good_password(password, username=username, email=email)
    return _set_up(
        envelope,
        profile={
            "name": name.strip(),
            "zone": zone,
            "address": address.strip(),
            "notation": notation,
            "paper": paper,
            "required_profile": required_profile,
        },
        manager=manager.strip(),
        username=username.strip(),
        password_hash=hidden(envelope, password) if manager else "",
        email=email.strip(),
    )


@verb("lab.set-up", may=None)
def _set_up(
    record: Recorder,
    *,
    profile: dict[str, str],
    manager: str,
    username: str,
    password_hash: str,
    email: str,
) -> dict[str, Any]:
    if Lab.objects.exists():
        raise Refusal(
            "set-up-before",
            _("This laboratory is set up already. Sign in; the manager can change everything."),
        )
    clean_profile(**{key: value for key, value in profile.items() if key != "address"})
    person = None
    record.event("lab.set-up")
    lab = record.create(Lab, pk=1, set_up_at=record.now, **profile)
    for weekday, opens, closes in DEFAULT_HOURS:
        record.create(
            OpenHours,
            weekday=weekday,
            opens=time.fromisoformat(opens),
            closes=time.fromisoformat(closes),
        )
    _default_route(record)
    if manager:
        user = User.objects.create(
            username=good_username(username), password=password_hash, email=email
        )
        record.event("person.added")
        person = record.create(Person, name=manager[:60], user=user, is_manager=True)
    return {"lab": lab.pk, "manager": person.pk if person else None, "route": 1}


def _default_route(record: Recorder) -> None:
    """Create the skills and stations that the default route names, and the route itself."""
    template = default_template()
    skills = dict.fromkeys(stage.skill for stage in template.stages if stage.skill)
    stations = dict.fromkeys(stage.station for stage in template.stages if stage.station)
    for key in skills:
        record.create(Skill, key=key, name=SKILLS.get(key, key)[:60])
    for key in stations:
        record.create(Station, key=key, name=STATIONS.get(key, key)[:60], count=1)
    record.event("route.saved", version=1)
    record.create(
        RouteVersion,
        version=1,
        document=template.to_json(),
        changes=[],
        reason=_("The default route."),
        saved_at=record.now,
    )
