"""Pages with one or several forms: send, keep what was typed, put a refusal beside its field."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any, TypeVar

from django.forms import BaseForm
from django.http import HttpResponse
from django.shortcuts import render
from django.urls import reverse
from django.utils.http import url_has_allowed_host_and_scheme

from cases.services.record import OtherBody, Refusal
from cases.views.page import LabRequest

R = TypeVar("R")
F = TypeVar("F", bound=BaseForm)


def posted(form: BaseForm, action: Callable[[dict[str, Any]], R]) -> R | None:
    """Run ``action`` with the cleaned entries; None when the form or the service refused.

    The refusal's sentence then stands beside its field, or on top of the form.
    """
    if not form.is_valid():
        return None
    try:
        return action(form.cleaned_data)
    except Refusal as refusal:
        form.add_error(refusal.field if refusal.field in form.fields else None, refusal.sentence)
        form.conflict = isinstance(refusal, OtherBody)  # type: ignore[attr-defined]
        return None


def section(request: LabRequest, what: str, make: Callable[..., F], /, **kwargs: Any) -> F:
    """Return one of several forms of a page, bound when it is the one that was sent.

    The hidden entry ``what`` names it; its ids begin with that name, so that no id stands
    twice on the page.
    """
    sent = request.method == "POST" and request.POST.get("what") == what
    data = request.POST if sent else None
    return make(data, auto_id=f"{what}-%s", **kwargs)


def show_forms(
    request: LabRequest, template: str, form: BaseForm | None = None, /, **context: Any
) -> HttpResponse:
    """Render a page; 422 when ``form`` came back refused, 409 when its id was used before.

    Each form of the template carries ``{% submission %}``, an id of its own.
    """
    refused = form is not None and form.is_bound and bool(form.errors)
    status = 200
    if refused:
        status = 409 if getattr(form, "conflict", False) else 422
    return render(request, template, {"form": form, **context}, status=status)


def safe_next(request: LabRequest, otherwise: str = "cases:home") -> str:
    """Return where to go on: the address of this site that was asked for, or another page."""
    wanted = request.POST.get("next") or request.GET.get("next") or ""
    if url_has_allowed_host_and_scheme(wanted, allowed_hosts=None):
        return wanted
    return reverse(otherwise)
