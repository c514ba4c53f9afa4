"""The resin that the lab uses, by what its maker says of mixing it."""

from __future__ import annotations

from cases.domain.judgement import RESIN_LIMITS
from cases.models import Resin

FIELDS = tuple(field for pair in RESIN_LIMITS.values() for field in pair)


def resin_in_use() -> dict[str, float]:
    """Return the known numbers of the lab's one active resin; nothing where it has several.

    Which of several is in the bowl nobody knows before the load: the label decides then.
    """
    found = list(Resin.objects.filter(active=True).values(*FIELDS)[:2])
    if len(found) != 1:
        return {}
    return {field: value for field, value in found[0].items() if value is not None}
