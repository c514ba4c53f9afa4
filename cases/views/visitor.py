"""Who is looking: the signed-in person, or the person with a PIN at an enrolled tablet."""

from __future__ import annotations

import hashlib
from collections.abc import Callable
from dataclasses import dataclass
from datetime import timedelta
from zoneinfo import ZoneInfo

from django.http import HttpRequest, HttpResponse
from django.utils import timezone

from cases.domain.rights import capabilities
from cases.models import BenchSession, Lab, Person, Tablet
from cases.services.tablets import lock_if_idle

TABLET_COOKIE = "labflow-tablet"
SEEN_EVERY = timedelta(seconds=30)


@dataclass(frozen=True)
class Visitor:
    """Who asks for a page.

    ``door`` is ``bench`` on an enrolled tablet, ``portal`` for people of a practice, else
    ``web``. ``tablet`` is set on an enrolled tablet even while nobody has tapped a name.
    """

    person: Person | None = None
    door: str = "web"
    tablet: Tablet | None = None
    session: BenchSession | None = None

    @property
    def capabilities(self) -> frozenset[str]:
        """Return what this visitor may do here."""
        if self.person is None or not self.person.active:
            return frozenset()
        return capabilities(self.person.roles, door=self.door)

    def may(self, capability: str) -> bool:
        """Tell whether this visitor has ``capability``."""
        return capability in self.capabilities


def token_hash(token: str) -> str:
    """Return the stored form of a secret token."""
    return hashlib.sha256(token.encode()).hexdigest()


def tablet_of(request: HttpRequest) -> Tablet | None:
    """Return the enrolled tablet that this request comes from."""
    token = request.COOKIES.get(TABLET_COOKIE, "")
    if not token:
        return None
    return (
        Tablet.objects.select_related("station")
        .filter(token_hash=token_hash(token), revoked_at__isnull=True)
        .first()
    )


def _at_the_bench(request: HttpRequest, tablet: Tablet, lab: Lab | None) -> Visitor:
    session = (
        BenchSession.objects.select_related("person")
        .filter(tablet=tablet, closed_at__isnull=True)
        .first()
    )
    if session is None or not session.person.active:
        return Visitor(door="bench", tablet=tablet)
    now = timezone.now()
    if lab is not None and now - session.seen_at > timedelta(minutes=lab.idle_lock_minutes):
        # The sweep has not been here yet; the PIN opens the tablet again.
        lock_if_idle(session, now)
        return Visitor(door="bench", tablet=tablet, session=None)
    polled = request.headers.get("X-Labflow-Poll")
    if not polled and now - session.seen_at > SEEN_EVERY:
        BenchSession.objects.filter(pk=session.pk).update(seen_at=now)
    return Visitor(session.person, "bench", tablet, session)


def visitor_of(request: HttpRequest, lab: Lab | None) -> Visitor:
    """Return who asks. A tablet is a tablet even when somebody has signed in on it."""
    tablet = tablet_of(request)
    if tablet is not None:
        return _at_the_bench(request, tablet, lab)
    if not request.user.is_authenticated:
        return Visitor()
    person = Person.objects.filter(user=request.user, active=True).first()
    if person is None:
        return Visitor()
    lab_roles = person.is_desk or person.is_technician or person.is_manager
    return Visitor(person, "web" if lab_roles else "portal")


def identify(
    get_response: Callable[[HttpRequest], HttpResponse],
) -> Callable[[HttpRequest], HttpResponse]:
    """Middleware: put ``lab``, ``visitor`` and ``now`` on every request; show the lab's zone."""

    def middleware(request: HttpRequest) -> HttpResponse:
        lab = Lab.objects.first()
        request.lab = lab  # type: ignore[attr-defined]
        request.now = timezone.now()  # type: ignore[attr-defined]
        request.visitor = visitor_of(request, lab)  # type: ignore[attr-defined]
        with timezone.override(ZoneInfo(lab.zone if lab else "UTC")):
            return get_response(request)

    return middleware
