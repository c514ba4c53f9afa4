"""Log what came in for a practice or a dentist that nobody has entered before, in one go."""

from __future__ import annotations

from datetime import time
from typing import Any

from cases.models import Dentist, DentistAt, Practice
from cases.services.log_case import log_case
from cases.services.record import Recorder, Refusal, verb


def _open_practice(record: Recorder, entered: dict[str, Any]) -> Practice:
    """Create the practice; its code is what labels and papers call it."""
    name, code = str(entered["name"]).strip(), str(entered["code"]).strip().upper()
    if not name or not code:
        raise Refusal("no-name", "A new practice needs a name and a short code.")
    if Practice.objects.filter(code=code).exists():
        raise Refusal(
            "code-taken",
            f"{code} is the code of another practice. Choose that practice, or another code.",
            field="new_practice_code",
        )
    record.event("practice.added", subject=code)
    return record.create(
        Practice,
        name=name,
        code=code,
        phone=str(entered.get("phone", "")).strip(),
        ship_weekdays=sorted(int(day) for day in entered["ship_weekdays"]),
        transit_days=int(entered["transit_days"]),
        cut_off=time.fromisoformat(entered["cut_off"]),
    )


def _dentist_at(
    record: Recorder, practice: int, dentist: int | None, entered: dict[str, Any] | None
) -> int | None:
    """Return the dentist who ordered, made known at the practice where that is new."""
    if entered is not None:
        name = str(entered["name"]).strip()
        if not name:
            raise Refusal("no-name", "Write the dentist's name.", field="new_dentist_name")
        record.event("dentist.added")
        row = record.create(Dentist, name=name, licence=str(entered.get("licence", "")).strip())
        record.create(DentistAt, dentist=row, practice_id=practice)
        return row.pk
    if dentist is None:
        return None
    known = Dentist.objects.filter(pk=dentist, active=True).first()
    if known is None:
        raise Refusal("no-dentist", "Choose the dentist.", field="dentist")
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
    new_practice
        ``name``, ``code``, ``phone``, ``ship_weekdays`` (0 Monday), ``transit_days``,
        ``cut_off`` (ISO time).
    new_dentist
        ``name``, ``licence``.
    order
        What ``log_case`` takes besides.

    Returns
    -------
    dict
        As ``log_case``.

    Raises
    ------
    Refusal
        As ``log_case``, and ``no-practice``, ``no-dentist``, ``no-name``, ``code-taken``. A
        refused order leaves no new practice behind.
    """
    at = practice
    if new_practice is not None:
        at = _open_practice(record, new_practice).pk
    if at is None or not Practice.objects.filter(pk=at, active=True).exists():
        raise Refusal("no-practice", "Choose the practice.", field="practice")
    who = _dentist_at(record, at, dentist, new_dentist)
    return log_case.inner(record, practice=at, dentist=who, **order)
