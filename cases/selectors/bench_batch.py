"""What the cases of a batch still need before they are started or finished together."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass

from cases.models import CaseEdge, CheckItem, CheckPhoto, Occupied
from cases.selectors.bench import Work
from cases.selectors.bench_stage import SHOP_THINGS


@dataclass(frozen=True)
class BatchNeed:
    """One case of a batch: ``things`` to take by number, why a photograph is asked first
    (empty: none), and how many required checks are ``left`` and ``failed``."""

    work: Work
    things: list[str]
    photo_first: str
    left: int
    failed: int


def batch_needs(works: list[Work]) -> list[BatchNeed]:
    """Return the needs of each, in four queries whatever their number."""
    cases = [work.stage.case_id for work in works]
    have = {
        (case, kind)
        for case, kind in Occupied.objects.filter(
            case__in=cases, freed_at__isnull=True
        ).values_list("case_id", "thing__kind")
    }
    photographed = _photographed(works)
    counts = Counter(
        CheckItem.objects.filter(stage__in=[work.stage.pk for work in works], required=True)
        .order_by()
        .values_list("stage_id", "state")
    )
    needs = []
    for work in works:
        stage = work.stage
        kinds = dict.fromkeys(one["thing"] for one in stage.spec.get("holds", ()))
        wanted = [k for k in kinds if k in SHOP_THINGS and (stage.case_id, k) not in have]
        why = "" if stage.case_id in photographed else str(stage.spec.get("photo_before", ""))
        left, failed = counts[(stage.pk, "open")], counts[(stage.pk, "failed")]
        needs.append(BatchNeed(work, wanted, why, left, failed))
    return needs


def _photographed(works: list[Work]) -> set[int]:
    """Return the cases whose stage right before was photographed at its present attempt."""
    cases = [work.stage.case_id for work in works]
    key = works[0].stage.key if works else ""
    before = set(
        CaseEdge.objects.filter(case__in=cases, after=key).values_list("case_id", "before")
    )
    pictures = CheckPhoto.objects.filter(
        item__case__in=cases, item__stage__key__in={name for _case, name in before}
    ).values_list("item__case_id", "item__stage__key", "attempt", "item__stage__attempt")
    return {
        case for case, name, attempt, now in pictures if (case, name) in before and attempt == now
    }
