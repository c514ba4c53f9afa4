"""Passwords, PINs and one-time tokens: what a verb may be given of them.

A verb's body is hashed into the record, and a hash over a PIN of four digits is as good as the
PIN. So the words themselves never enter a body: they are hashed slowly (and outside the
transaction, which must not wait for it) before the verb is called. Salt and token come from the
submission's id, so that the same submission sent twice is the same body twice.
"""

from __future__ import annotations

import hashlib
import uuid

from django.contrib.auth.hashers import check_password, make_password
from django.contrib.auth.models import User
from django.contrib.auth.password_validation import validate_password
from django.core.exceptions import ValidationError
from django.utils.crypto import salted_hmac
from django.utils.translation import gettext as _

from cases.services.record import Envelope, Refusal

PIN_LEAST, PIN_MOST = 4, 8
"""Digits of a PIN. Judgement: it only opens an enrolled tablet, and it is throttled."""


def hidden(envelope: Envelope, secret: str) -> str:
    """Return the slow, salted hash of a password or PIN, the same for the same submission."""
    return make_password(secret, salt=envelope.submission_id.hex)


def one_time_token(submission_id: uuid.UUID, purpose: str) -> str:
    """Return a secret token (64 hex digits), the same for the same submission."""
    keyed = salted_hmac(f"labflow.{purpose}", submission_id.hex, algorithm="sha256")
    return keyed.hexdigest()


def token_digest(token: str) -> str:
    """Return the stored form of a one-time token."""
    return hashlib.sha256(token.encode()).hexdigest()


def fingerprint(stored: str) -> str:
    """Return a short name of a stored hash: says which one was compared with."""
    return hashlib.sha256(stored.encode()).hexdigest()[:16]


def is_right(secret: str, stored: str) -> bool:
    """Tell whether a password or PIN fits its stored hash."""
    return bool(stored) and check_password(secret, stored)


def good_pin(pin: str, *, field: str = "pin") -> str:
    """Return the PIN without blanks.

    Raises
    ------
    Refusal
        ``bad-pin`` when it is not 4 to 8 digits.
    """
    pin = pin.strip()
    if not (pin.isascii() and pin.isdigit() and PIN_LEAST <= len(pin) <= PIN_MOST):
        raise Refusal("bad-pin", _("A PIN has 4 to 8 digits. Enter digits only."), field=field)
    return pin


def good_password(
    password: str, *, username: str = "", email: str = "", field: str = "password"
) -> str:
    """Return the password.

    Raises
    ------
    Refusal
        ``weak-password`` with every sentence of what is wrong with it.
    """
    try:
        validate_password(password, User(username=username, email=email))
    except ValidationError as error:
        raise Refusal("weak-password", " ".join(error.messages), field=field) from error
    return password
