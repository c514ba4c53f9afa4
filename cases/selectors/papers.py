"""Papers as they were printed, and who may read them."""

from __future__ import annotations

import uuid

from django.db.models import Prefetch, QuerySet

from cases.domain.rights import capabilities
from cases.models import Case, CaseStage, Paper, Person, PracticeMember, Submission


def case_for_paper(cases: QuerySet[Case], number: str) -> Case | None:
    """Return a case with everything that its ticket and label tell (two queries)."""
    stages = Prefetch("stages", queryset=CaseStage.objects.order_by("position", "pk"))
    return (
        cases.filter(number=number)
        .select_related("practice", "prescription__dentist", "design", "twin", "remake_of")
        .prefetch_related(stages)
        .first()
    )


def papers_for(person: Person, *, door: str) -> QuerySet[Paper]:
    """Return the papers a person may read.

    Who packs reads all; people of a practice the delivery notes of boxes that were sent to it.
    """
    held = capabilities(person.roles, door=door)
    if "dispatch" in held:
        return Paper.objects.all()
    if "see-own-practice" in held:
        mine = PracticeMember.objects.filter(person=person).values("practice")
        return Paper.objects.filter(
            kind="note", shipment__practice__in=mine, shipment__sent_at__isnull=False
        )
    return Paper.objects.none()


def paper_of(submission: uuid.UUID, person: Person) -> int | None:
    """Return the paper that this submission of this person kept, if it did before."""
    stored = Submission.objects.filter(
        pk=submission, verb="paper.keep", person=person, outcome="done"
    ).first()
    return int(stored.result["paper"]) if stored else None
