"""The program's own health, for whoever watches it from outside."""

from __future__ import annotations

from django.db import DatabaseError
from django.http import HttpResponse, JsonResponse

from cases.models import Heartbeat
from cases.views.frame import STALE_AFTER
from cases.views.page import OPEN, LabRequest, page


@page(may=OPEN)
def health(request: LabRequest) -> HttpResponse:
    """Answer 200 when the database answers; ``sweep`` says whether waits are watched.

    A stale sweep is told, not failed: the pages themselves still work and say so.
    """
    try:
        at = Heartbeat.objects.filter(name="sweep").values_list("at", flat=True).first()
    except DatabaseError:
        return JsonResponse({"web": "no database"}, status=503)
    alive = at is not None and request.now - at <= STALE_AFTER
    return JsonResponse({"web": "ok", "sweep": "ok" if alive else "stale"})
