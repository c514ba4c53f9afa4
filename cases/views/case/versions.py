"""One version of the design of a case, read-only, with its difference from the one before."""

from __future__ import annotations

from django.http import Http404, HttpResponse
from django.shortcuts import render

from cases.domain.design_change import changed_teeth, changes
from cases.models import Case
from cases.selectors.design_versions import Version, version_of
from cases.views.case.design_parts import sections
from cases.views.case.design_words import changes_of
from cases.views.case.door import frame_of, the_case
from cases.views.case.version_words import (
    conceded_lines,
    drawn_by,
    standing_lines,
    state_of,
    wished_by,
)
from cases.views.notation import notation_of
from cases.views.page import LabRequest, page


def _difference(shown: Version, notation: str) -> tuple[list[str], tuple[int, ...]]:
    """Return what differs from the version before, in sentences and as teeth to ring."""
    if shown.before is None:
        return [], ()
    found = changes(shown.before, shown.plan)
    return changes_of(shown.before, shown.plan, notation), tuple(sorted(changed_teeth(found)))


def _may_go_back(request: LabRequest, case: Case, shown: Version, present: int) -> bool:
    """Tell whether to offer the way back to a version: finished, and not what stands alone."""
    finished = not (shown.plan.provisional or shown.plan.draft)
    newest = present == shown.row.version and shown.later is None
    return finished and not newest and case.state == "open" and request.visitor.may("hold")


@page(may="see-cases")
def version(request: LabRequest, number: str, version: int) -> HttpResponse:
    """Show one version."""
    case = the_case(request, number)
    shown = version_of(case, version)
    if shown is None:
        raise Http404
    notation = notation_of(request)
    present = case.design.version if case.design else 0
    kind, state = state_of(shown.row, present)
    sentences, ring = _difference(shown, notation)
    context = {
        "case": case,
        "frame": frame_of(request),
        "notation": notation,
        "shown": shown,
        "present": present,
        "may_go_back": _may_go_back(request, case, shown, present),
        "tag": {"kind": kind, "words": state},
        "drawn_by": drawn_by(shown.row),
        "wished_by": wished_by(shown.row),
        "standing": standing_lines(shown.row, dict(case.stages.values_list("key", "name"))),
        "kennedy": str(shown.kennedy or ""),
        "kennedy_why": shown.kennedy.reason if shown.kennedy else "",
        "kennedy_areas": shown.kennedy.why(notation) if shown.kennedy else (),
        "sentences": sentences,
        "ring": ring,
        "sections": sections(shown.plan, notation),
        "conceded": conceded_lines(shown.conceded, notation, shown.plan.primary),
    }
    return render(request, "case/version.html", context)
