"""What every view shares: who may come in, the envelope of a form, and how a refusal looks.

A view is declared with ``page``; a view without it answers nobody (the grid test walks the URL
resolver and fails on one).
"""

from __future__ import annotations

import uuid
from collections.abc import Callable
from datetime import datetime
from functools import wraps
from typing import Any, cast

from django.http import (
    Http404,
    HttpRequest,
    HttpResponse,
    HttpResponseNotAllowed,
    HttpResponseRedirect,
)
from django.http.response import HttpResponseBase
from django.shortcuts import redirect, render
from django.utils.cache import patch_vary_headers
from django.utils.dateparse import parse_datetime
from django_htmx.http import HttpResponseClientRedirect
from django_htmx.middleware import HtmxDetails

from cases.models import Lab
from cases.services.record import Envelope, OtherBody, Outcome, Refusal, Verb
from cases.views.visitor import Visitor

OPEN = "open"
"""For pages that everybody may see (signing in, health)."""


class LabRequest(HttpRequest):
    """A request after the middleware: typed for views."""

    visitor: Visitor
    lab: Lab | None
    now: datetime
    htmx: HtmxDetails


View = Callable[..., HttpResponseBase]


class SeeOther(HttpResponseRedirect):
    """303: the form is done, look here."""

    status_code = 303


def _enter(request: LabRequest) -> HttpResponse:
    """Send somebody who is not known here to where they can sign in."""
    bench = request.visitor.tablet is not None
    where = "cases:bench-names" if bench else "cases:sign-in"
    response = redirect(where)
    if not bench and request.method == "GET" and not request.htmx:
        response["Location"] += f"?next={request.path}"
    if request.htmx:
        # A login page must never be swapped into a fragment.
        return HttpResponseClientRedirect(response["Location"])
    return response


def page(*, may: str, methods: tuple[str, ...] = ("GET",)) -> Callable[[View], View]:
    """Declare a view: the capability it asks for (``OPEN`` for none) and its methods.

    Nobody signed in → the sign-in page; signed in without the capability → 404, because what
    one may not see is not there.
    """

    def decorate(view: View) -> View:
        @wraps(view)
        def call(request: HttpRequest, *args: Any, **kwargs: Any) -> HttpResponseBase:
            asked = cast(LabRequest, request)
            allowed = (*methods, "HEAD") if "GET" in methods else methods
            if request.method not in allowed:
                return HttpResponseNotAllowed(allowed)
            if may != OPEN:
                if asked.visitor.person is None:
                    return _enter(asked)
                if not asked.visitor.may(may):
                    raise Http404
            response = view(asked, *args, **kwargs)
            patch_vary_headers(response, ["HX-Request"])
            response.headers.setdefault("Cache-Control", "no-store")
            return response

        call.may = may  # type: ignore[attr-defined]
        call.methods = methods  # type: ignore[attr-defined]
        return call

    return decorate


def envelope(request: LabRequest) -> Envelope:
    """Return the envelope of a posted form: its ``submission_id`` and ``happened_at``."""
    try:
        submission = uuid.UUID(request.POST.get("submission_id", ""))
    except ValueError:
        submission = uuid.uuid4()
    happened = parse_datetime(request.POST.get("happened_at", "") or "")
    if happened is not None and happened.tzinfo is None:
        happened = None
    visitor = request.visitor
    return Envelope(
        door=visitor.door,
        now=request.now,
        person_id=visitor.person.pk if visitor.person else None,
        tablet_id=visitor.tablet.pk if visitor.tablet else None,
        happened_at=happened,
        submission_id=submission,
    )


def send(request: LabRequest, verb: Verb, /, **body: Any) -> Outcome:
    """Run a verb for this request; a Refusal goes to the caller."""
    return verb(envelope(request), **body)


def status_of(refusal: Refusal) -> int:
    """Return the HTTP status of a refusal: 409 for a reused id, else 422."""
    return 409 if isinstance(refusal, OtherBody) else 422


def show(
    request: LabRequest,
    template: str,
    context: dict[str, Any],
    *,
    refusal: Refusal | None = None,
) -> HttpResponse:
    """Render a page or fragment; with a refusal its sentence is ``refusal`` in the context."""
    context = {**context, "refusal": refusal, "new_submission_id": uuid.uuid4()}
    return render(request, template, context, status=status_of(refusal) if refusal else 200)


def integer(text: str | None) -> int | None:
    """Return the integer in a form field, or None."""
    try:
        return int(text or "")
    except ValueError:
        return None
