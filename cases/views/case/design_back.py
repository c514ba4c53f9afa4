"""Put the design back to an earlier version, with what becomes of the finished stages."""

from __future__ import annotations

from typing import Any

from django.http import Http404, HttpResponse
from django.utils.translation import gettext as _

from cases.domain.design import Design
from cases.domain.design_change import changed_teeth, changes
from cases.forms.case_actions import DesignBackForm
from cases.selectors.design_drafts import decided_against
from cases.services.design_back import put_back
from cases.views.case.actions import version_of
from cases.views.case.design import decisions
from cases.views.case.design_live import in_question, say_undecided
from cases.views.case.design_words import changes_of
from cases.views.case.door import Action, act, the_case
from cases.views.notation import notation_of
from cases.views.page import LabRequest, page, send


@page(may="hold", methods=("GET", "POST"))
def back(request: LabRequest, number: str, version: int) -> HttpResponse:
    """Store a new version that says what a finished one said."""
    case = the_case(request, number)
    row = case.designs.filter(version=version).first()
    stands = decided_against(case)
    if row is None or row.data["provisional"] or row.data["draft"] or stands is None:
        raise Http404
    plan = Design.from_json(row.data)
    form = DesignBackForm(request.POST or None)
    if request.method == "POST":
        form = DesignBackForm(request.POST)

    def run(data: dict[str, Any]) -> object:
        return send(
            request,
            put_back,
            case=case.pk,
            version=version_of(request, case.version),
            to=version,
            reason=data["reason"],
            **decisions(request),
        )

    asked = in_question(case, plan, request.POST)
    if request.method == "POST":
        # Shown again only where it was refused.
        say_undecided(asked)
    action = Action(
        _("Put the design back to version %(n)s.") % {"n": version},
        _("Put it back"),
        _("The design is put back. What the practice had agreed to goes on."),
        _("This is stored as a new version; nothing that was drawn meanwhile is lost."),
        template="case/design_back.html",
    )
    return act(
        request,
        case,
        form,
        action,
        run,
        anchor="design",
        version=case.version,
        plan=plan,
        ring=tuple(sorted(changed_teeth(changes(stands, plan)))),
        sentences=changes_of(stands, plan, notation_of(request)),
        in_question=asked,
    )
