"""My work now, and taking a case by its code."""

from __future__ import annotations

import re

from django.http import HttpResponse
from django.shortcuts import render
from django.utils.translation import gettext as _

from cases.domain.casenumber import NotACaseNumber
from cases.models import Case
from cases.selectors.bench_stage import case_in_flask, stage_to_open
from cases.selectors.visible import find_case
from cases.services.read_code import read_code
from cases.services.record import Refusal
from cases.views.bench.frame import bench_context, person_of, to_stage
from cases.views.page import LabRequest, page

CASE_IN_TEXT = re.compile(r"\b\d{2}-?\d{4,}-?[0-9A-Z]\b", re.IGNORECASE)
"""A case number inside a longer code, such as the address on a ticket."""
FLASK = re.compile(r"(?:flask\s*)?(\S{1,20})", re.IGNORECASE)


@page(may="work")
def bench(request: LabRequest) -> HttpResponse:
    """Show what to do now."""
    return _show(request)


def _show(request: LabRequest, *, code: str = "", error: str = "") -> HttpResponse:
    context = {**bench_context(request), "code": code, "scan_error": error}
    return render(request, "bench/bench.html", context, status=422 if error else 200)


@page(may="work", methods=("POST",))
def take(request: LabRequest) -> HttpResponse:
    """Open the case that a code names: typed, scanned, or on a photograph."""
    code = request.POST.get("code", "").strip()
    try:
        upload = request.FILES.get("photo")
        if upload is not None and not code:
            code = read_code(upload)
        case = _case_of(request, code)
    except (Refusal, ValueError) as error:
        return _show(request, code=code, error=str(error))
    stage = stage_to_open(case, person_of(request))
    if stage is None or case.state in {"sent", "cancelled"}:
        words = _("%(number)s is closed: nothing more is done on it at the bench.")
        return _show(request, code=code, error=words % {"number": case.number})
    return to_stage(stage)


def _case_of(request: LabRequest, code: str) -> Case:
    """Return the case of a number, of a code with the number in it, or of a flask.

    Raises
    ------
    ValueError
        With the sentence that says what is wrong with the code.
    """
    person = person_of(request)
    door = request.visitor.door
    inside = CASE_IN_TEXT.search(code)
    try:
        case = find_case(person, inside[0] if inside else code, door=door)
    except NotACaseNumber:
        flask = FLASK.fullmatch(code)
        case = case_in_flask(flask[1]) if flask else None
        if case is None:
            if flask and code.lower().startswith("flask"):
                raise ValueError(_("No case is in flask %(n)s.") % {"n": flask[1]}) from None
            raise
        return case
    if case is None:
        raise ValueError(
            _("There is no case %(number)s in this lab. Read the ticket again.")
            % {"number": code.upper()[:20]}
        )
    return case
