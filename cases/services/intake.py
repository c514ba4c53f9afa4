"""Log what came in for a practice or a dentist that nobody has entered before, in one go."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from typing import Any

from django.utils.translation import gettext as _

from cases.models import Dentist, DentistAt, Practice
from cases.services.log_case import log_case
from cases.services.practices import add_dentist, add_practice
from cases.services.record import Recorder, Refusal, verb


@contextmanager
def _named(prefix: str) -> Iterator[None]:
    """Let a refusal name the entry of the intake: ``name`` becomes ``new_practice_name``."""
    try:
        yield
    except Refusal as refusal:
        field = f"{prefix}_{refusal.field}" if refusal.field else ""
        raise Refusal(refusal.code, refusal.sentence, field=field) from refusal


def _dentist_at(
    record: Recorder, practice: int, dentist: int | None, entered: dict[str, Any] | None
) -> int | None:
    """Return the dentist who ordered, made known at the practice where that is new."""
    if entered is not None:
        with _named("new_dentist"):
            return int(add_dentist.inner(record, practices=[practice], **entered)["dentist"])
    if dentist is None:
        return None
    known = Dentist.objects.filter(pk=dentist, active=True).first()
    if known is None:
        raise Refusal("no-dentist", _("Choose the dentist."), field="dentist")
    if not DentistAt.objects.filter(dentist=known, practice_id=practice).exists():
        record.event("dentist.joined", subject=str(practice))
        record.create(DentistAt, dentist=known, practice_id=practice)
    return known.pk


@verb("intake.log", may="log-cases")
def log_intake(
    record: Recorder,
    *,
    practice: int | None,
    dentist: int | None = None,
    new_practice: dict[str, Any] | None = None,
    new_dentist: dict[str, Any] | None = None,
    **order: Any,
) -> dict[str, Any]:
    """Log an order (``log_case``) after making its practice and dentist known where needed.

    Parameters
    ----------
    practice, dentist
        Primary keys; None when ``new_practice``, ``new_dentist`` say who, or (dentist) when
        the prescription names none.
    new_practice, new_dentist
        What ``add_practice`` and ``add_dentist`` take.
    order
        What ``log_case`` takes besides.

    Returns
    -------
    dict
        As ``log_case``.

    Raises
    ------
    Refusal
        As ``log_case``, ``add_practice`` and ``add_dentist`` (their fields with
        ``new_practice_`` or ``new_dentist_`` in front), and ``no-dentist``. A refused order
        leaves no new practice behind.
    """
    at = practice
    if new_practice is not None:
        with _named("new_practice"):
            at = int(add_practice.inner(record, **new_practice)["practice"])
    if at is None or not Practice.objects.filter(pk=at, active=True).exists():
        raise Refusal("no-practice", _("Choose the practice."), field="practice")
    who = _dentist_at(record, at, dentist, new_dentist)
    return log_case.inner(record, practice=at, dentist=who, **order)
