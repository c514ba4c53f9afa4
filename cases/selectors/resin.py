"""The resin of a case: what it was packed with, or the only one in use; its dough, its maker."""

from __future__ import annotations

from django.db.models import F, QuerySet

from cases.domain.cure.dough import Window
from cases.domain.judgement import RESIN_LIMITS
from cases.models import Case, CaseStage, LoadFlask, Mix, Resin

PACK = "pack"
FIELDS = tuple(field for pair in RESIN_LIMITS.values() for field in pair)


def resins_in_use() -> list[Resin]:
    """Return the resins of which somebody may choose one at packing."""
    return list(Resin.objects.filter(active=True))


def packed_with(case: Case) -> Resin | None:
    """Return the resin that was mixed for a case last; None where nobody knows it.

    Where nobody noted a mix it is what was said when the flask was put into a load, as long as
    nothing was packed again since.
    """
    mix = Mix.objects.filter(case=case).select_related("resin").order_by("-pk").first()
    if mix is not None:
        return mix.resin
    told = _told().filter(case=case).select_related("resin").last()
    return told.resin if told else None


def packed_since(flask: LoadFlask) -> bool:
    """Tell whether the case of a flask was packed again after it was put into its load."""
    return flask.case.stages.filter(key=PACK, ended_at__gt=flask.added_at).exists()


def packed_cases() -> dict[int, int]:
    """Return the resin of every open case of which ``packed_with`` knows it (two queries)."""
    mixed = Mix.objects.filter(case__state="open").order_by("pk")
    told = _told().filter(case__state="open")
    return dict(told.values_list("case", "resin")) | dict(mixed.values_list("case", "resin"))


def _told() -> QuerySet[LoadFlask]:
    """Return the flasks of whose resin somebody said it, the last one last."""
    return LoadFlask.objects.filter(
        resin__isnull=False, case__stages__key=PACK, case__stages__ended_at__lte=F("added_at")
    ).order_by("pk")


def last_mix(stage: CaseStage) -> Mix | None:
    """Return what was mixed last at the present attempt of a stage."""
    mixes = Mix.objects.filter(stage=stage, attempt=stage.attempt).select_related("resin")
    return mixes.order_by("-pk").first()


def window_of(mix: Mix) -> Window:
    """Return the window of what was mixed, as it was known then."""
    return Window(mix.mixed_at, mix.opens_at, mix.closes_at, mix.closed_at)


def clocked_minutes(stage: CaseStage) -> float | None:
    """Return the minutes from mix to last closing that the clock noted; None without both."""
    mix = last_mix(stage) if stage.key == PACK else None
    return window_of(mix).minutes_to_closing() if mix else None


def resin_of(case: Case) -> Resin | None:
    """Return the resin of a case: what it was packed with, else the lab's one active resin.

    Which of several is in the bowl nobody knows before somebody says it: None then.
    """
    found = packed_with(case)
    if found is not None:
        return found
    active = list(Resin.objects.filter(active=True)[:2])
    return active[0] if len(active) == 1 else None


def makers_numbers(resin: Resin | None) -> dict[str, float]:
    """Return the known numbers of a resin; nothing where it is not known."""
    if resin is None:
        return {}
    told = {field: getattr(resin, field) for field in FIELDS}
    return {field: value for field, value in told.items() if value is not None}
