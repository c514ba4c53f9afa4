"""Find a case, a practice or a dentist by what somebody knows of it."""

from __future__ import annotations

from django.db.models import Prefetch, Q, QuerySet

from cases.models import Case, Dentist, Practice, Question

MOST = 300
"""Cases looked up by a part of a number or reference: who types so little must type more."""


def practice_choices() -> list[tuple[int, str]]:
    """Return the practices that order, as (primary key, name)."""
    return list(Practice.objects.filter(active=True).values_list("pk", "name"))


def find_practice(key: int | None) -> Practice | None:
    """Return the practice with this primary key while it orders."""
    return Practice.objects.filter(pk=key, active=True).first() if key else None


def dentist_choices(
    practice: Practice | None,
) -> tuple[list[tuple[int, str]], list[tuple[int, str]]]:
    """Return the dentists at a practice and those who are known only elsewhere.

    Each as (primary key, name). Without a practice everybody is elsewhere.
    """
    rows = Dentist.objects.filter(active=True).values_list("pk", "name")
    if practice is None:
        return [], list(rows)
    here = list(rows.filter(places__practice=practice))
    known = {key for key, _name in here}
    return here, [row for row in rows if row[0] not in known]


def search_cases(cases: QuerySet[Case], words: str) -> QuerySet[Case]:
    """Narrow ``cases`` to those whose number, practice or patient reference has ``words``.

    Parameters
    ----------
    cases
        What the person may see.
    words
        As typed; small letters do.
    """
    typed = words.strip()
    capitals = typed.upper()
    practices = Practice.objects.filter(Q(name__icontains=typed) | Q(code=capitals))
    # Numbers and references stand in indexes together with the primary keys: looking through
    # those does not read the rows of every case that was ever finished.
    likely = [Q(patient_ref__contains=capitals)]
    if capitals[:1].isdigit():
        likely.append(Q(number__startswith=capitals))
    found = {
        key
        for condition in likely
        for key in cases.filter(condition).order_by("-pk").values_list("pk", flat=True)[:MOST]
    }
    return cases.filter(
        Q(practice__in=list(practices.values_list("pk", flat=True))) | Q(pk__in=sorted(found))
    )


def logged_with(case: Case) -> list[Case]:
    """Return a case and its twin, upper first, with practice, design and open questions."""
    keys = [case.pk, case.twin_id] if case.twin_id else [case.pk]
    return list(
        Case.objects.filter(pk__in=keys)
        .select_related("practice", "design", "prescription__dentist")
        .prefetch_related(
            Prefetch(
                "questions",
                queryset=Question.objects.filter(answered_at=None, withdrawn_at=None),
                to_attr="open_questions",
            )
        )
        .order_by("-arch")
    )
