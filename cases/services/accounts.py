"""Sign-ins: a person's user name and password, one-time invitations, and the throttle."""

from __future__ import annotations

from datetime import datetime, timedelta
from typing import Any

from django.contrib.auth import authenticate
from django.contrib.auth.models import User
from django.contrib.auth.validators import UnicodeUsernameValidator
from django.core.cache import cache
from django.core.exceptions import ValidationError
from django.utils import timezone
from django.utils.translation import gettext as _

from cases.models import Invitation, Person
from cases.services.record import Envelope, Outcome, Recorder, Refusal, verb
from cases.services.secrets import (
    fingerprint,
    good_password,
    hidden,
    is_right,
    one_time_token,
    token_digest,
)

INVITATION_FOR = timedelta(days=7)
WAIT = timedelta(minutes=5)
"""How long failures count. Judgement."""

FAILURES = {"pair": 5, "name": 20, "address": 30}
"""Wrong passwords within ``WAIT`` until one must wait: for one user name from one address,
for one name from anywhere, from one address for any name. Judgement."""


def _throttle_keys(username: str, address: str) -> dict[str, str]:
    name = token_digest(username.casefold())
    where = token_digest(address)
    return {
        "pair": f"sign-in:{name}:{where}",
        "name": f"sign-in:{name}",
        "address": f"sign-in:@{where}",
    }


def refuse_throttled(username: str, address: str, now: datetime) -> None:
    """Raise Refusal while this name or address has failed too often.

    Raises
    ------
    Refusal
        ``wait`` with the time from which one may try again.
    """
    for kind, key in _throttle_keys(username, address).items():
        count, first = cache.get(key, (0, now))
        if count >= FAILURES[kind] and now < first + WAIT:
            at = timezone.localtime(first + WAIT + timedelta(minutes=1)).strftime("%H:%M")
            raise Refusal(
                "wait",
                _(
                    "Too many wrong tries. Wait until %(at)s, or set a new password by mail "
                    "meanwhile."
                )
                % {"at": at},
            )


def count_failure(username: str, address: str, now: datetime) -> None:
    """Count one wrong password for the name, the address, and both together."""
    for key in _throttle_keys(username, address).values():
        count, first = cache.get(key, (0, now))
        if now >= first + WAIT:
            count, first = 0, now
        cache.set(key, (count + 1, first), WAIT.total_seconds())


def check_sign_in(*, username: str, password: str, address: str, now: datetime) -> User:
    """Return the user whose name and password these are.

    Raises
    ------
    Refusal
        ``wait`` after too many failures, ``wrong`` for a wrong name or password (not saying
        which), ``inactive`` when the person no longer works here.
    """
    refuse_throttled(username, address, now)
    user = authenticate(username=username, password=password)
    if user is None:
        count_failure(username, address, now)
        raise Refusal(
            "wrong",
            _("This user name and password do not go together. Try again, or set a new password."),
        )
    if not Person.objects.filter(user=user, active=True).exists():
        raise Refusal(
            "inactive", _("This sign-in is no longer in use. Ask the manager of the laboratory.")
        )
    cache.delete(_throttle_keys(username, address)["pair"])
    return user


@verb("account.signed-in", may=None)
def signed_in(record: Recorder) -> dict[str, Any]:
    """Write down that a person signed in."""
    record.event("account.signed-in", subject=str(record.actor.pk))
    return {"person": record.actor.pk}


@verb("account.password-set", may=None)
def password_set(record: Recorder) -> dict[str, Any]:
    """Write down that a person set a new password (the password is Django's, not the record's)."""
    record.event("account.password-set", subject=str(record.actor.pk))
    return {"person": record.actor.pk}


def good_username(username: str, *, taken_by: User | None = None) -> str:
    """Return the user name without blanks around it.

    Raises
    ------
    Refusal
        ``bad-username`` for signs that do not belong in one, ``username-taken``.
    """
    username = username.strip()
    try:
        UnicodeUsernameValidator()(username)
        fits = 0 < len(username) <= 150
    except ValidationError:
        fits = False
    if not fits:
        raise Refusal(
            "bad-username",
            _("A user name has letters, digits and @ . + - _ only, without blanks."),
            field="username",
        )
    others = User.objects.filter(username__iexact=username)
    if taken_by is not None:
        others = others.exclude(pk=taken_by.pk)
    if others.exists():
        raise Refusal(
            "username-taken", _("Somebody has this user name. Choose another."), field="username"
        )
    return username


def invite(envelope: Envelope, *, person: int, email: str = "") -> tuple[Outcome, str]:
    """Make a one-time link for a person; earlier links of that person end.

    Returns
    -------
    (Outcome, str)
        What was stored, and the token for the address: it is stored nowhere, show it once.
    """
    token = one_time_token(envelope.submission_id, "invitation")
    outcome = _invite(envelope, person=person, email=email.strip(), digest=token_digest(token))
    return outcome, token


@verb("person.invite", may="settings")
def _invite(record: Recorder, *, person: int, email: str, digest: str) -> dict[str, Any]:
    row = Person.objects.select_for_update().filter(pk=person).first()
    if row is None or not row.active:
        raise Refusal("no-person", _("Only somebody who works with the lab can be invited."))
    record.event("person.invited", subject=str(row.pk))
    for earlier in row.invitations.filter(used_at__isnull=True, expires_at__gt=record.now):
        record.change(earlier, expires_at=record.now)
    invitation = record.create(
        Invitation,
        person=row,
        token_hash=digest,
        email=email,
        made_at=record.now,
        expires_at=record.now + INVITATION_FOR,
    )
    return {"invitation": invitation.pk, "person": row.pk}


def find_invitation(token: str, now: datetime) -> Invitation:
    """Return the invitation that a link stands for.

    Raises
    ------
    Refusal
        ``no-invitation`` when it is unknown, used or too old; the sentence says what to do.
    """
    row = (
        Invitation.objects.select_related("person", "person__user")
        .filter(token_hash=token_digest(token))
        .first()
    )
    if row is None or row.used_at is not None or row.expires_at <= now or not row.person.active:
        raise Refusal(
            "no-invitation",
            _(
                "This link was used before or is too old. Ask the laboratory for a new one; "
                "if you chose a password already, just sign in."
            ),
        )
    return row


def accept_invitation(
    envelope: Envelope, *, token: str, username: str, password: str, email: str = ""
) -> Outcome:
    """Give the invited person a user name and password.

    Raises
    ------
    Refusal
        For a used or old link, a taken user name, a weak password.
    """
    good_password(password, username=username, email=email)
    return _accept(
        envelope,
        digest=token_digest(token),
        username=username.strip(),
        password_hash=hidden(envelope, password),
        email=email.strip(),
    )


@verb("invitation.accept", may=None)
def _accept(
    record: Recorder, *, digest: str, username: str, password_hash: str, email: str
) -> dict[str, Any]:
    found = Invitation.objects.select_for_update().filter(token_hash=digest).first()
    if found is None or found.used_at is not None or found.expires_at <= record.now:
        raise Refusal(
            "no-invitation",
            _("This link was used before or is too old. Ask the laboratory for a new one."),
        )
    person = Person.objects.select_for_update().get(pk=found.person_id)
    if not person.active:
        raise Refusal("no-person", _("This sign-in is no longer in use. Ask the laboratory."))
    name = good_username(username, taken_by=person.user)
    record.event("invitation.accepted", subject=str(person.pk))
    user = person.user or User()
    user.username, user.password, user.is_active = name, password_hash, True
    user.email = email or found.email or user.email
    user.save()
    record.change(person, user=user)
    record.change(found, used_at=record.now)
    return {"person": person.pk}


def change_password(envelope: Envelope, *, old: str, new: str) -> Outcome:
    """Set one's own password anew.

    Raises
    ------
    Refusal
        ``wrong-password`` for the old one, ``weak-password`` for the new one.
    """
    person = Person.objects.select_related("user").filter(pk=envelope.person_id or 0).first()
    user = person.user if person else None
    if user is None:
        raise Refusal("no-user", _("You sign in with a PIN only. Ask the manager for a sign-in."))
    good_password(new, username=user.username, email=user.email, field="new")
    return _change_password(
        envelope,
        right=is_right(old, user.password),
        against=fingerprint(user.password),
        password_hash=hidden(envelope, new),
    )


@verb("account.password-change", may=None)
def _change_password(
    record: Recorder, *, right: bool, against: str, password_hash: str
) -> dict[str, Any]:
    user = User.objects.select_for_update().get(person=record.actor)
    if not right or against != fingerprint(user.password):
        raise Refusal("wrong-password", _("This is not your present password."), field="old")
    record.event("account.password-changed", subject=str(record.actor.pk))
    user.password = password_hash
    user.save(update_fields=["password"])
    return {"person": record.actor.pk}
