"""Every kind of user, and the groups that the tables of rights speak of."""

from __future__ import annotations

from django.test import Client

from cases.views.visitor import TABLET_COOKIE
from tests.factories import PIN, TABLET_TOKEN, Shop

PEOPLE: dict[str, str] = {
    "desk": "noor",
    "technician": "mara",
    "student": "teo",
    "manager": "pavo",
    "dentist": "lind",
    "reception": "remy",
    "stranger": "vega",
}
"""Kinds who sign in with a password, by who of the shop they are. ``stranger`` is the dentist of
the other practice."""

NOBODY, TABLET, BENCH = "nobody", "tablet", "bench"
"""Not signed in; an enrolled tablet that nobody has unlocked; a technician there by PIN."""

KINDS: tuple[str, ...] = (NOBODY, TABLET, BENCH, *PEOPLE)

EVERYBODY = frozenset(KINDS)
KNOWN = EVERYBODY - {NOBODY, TABLET}
SEE = frozenset({"desk", "technician", BENCH, "student", "manager"})
WORK = frozenset({"technician", BENCH, "student"})
SIGN = frozenset({"technician", BENCH, "student", "manager"})
"""Who may open the countersigns; a student finds none there and is refused by the service."""
SKIP = WORK | {"manager"}
"""Who may leave a stage out."""
OFFICE = frozenset({"desk", "manager"})
MANAGER = frozenset({"manager"})
OWN = frozenset({"dentist", "reception"})
"""The people of the practice whose cases most of the scene's are."""
PORTAL = OWN | {"stranger"}


def sessions(shop: Shop) -> dict[str, dict[str, str]]:
    """Return the cookies of every kind of user."""
    found: dict[str, dict[str, str]] = {NOBODY: {}, TABLET: {TABLET_COOKIE: TABLET_TOKEN}}
    found[BENCH] = found[TABLET]
    for kind, who in PEOPLE.items():
        client = Client()
        user = shop.people[who].user
        assert user is not None
        client.force_login(user)
        found[kind] = {name: morsel.value for name, morsel in client.cookies.items()}
    return found


def unlock(shop: Shop) -> None:
    """Let a technician type the PIN at the tablet."""
    tablet = browser({TABLET_COOKIE: TABLET_TOKEN})
    tablet.post(f"/bench/who/{shop.people['mara'].pk}/", {"pin": PIN})


def browser(cookies: dict[str, str]) -> Client:
    """Return a browser that carries these cookies."""
    client = Client()
    for name, value in cookies.items():
        client.cookies[name] = value
    return client
