"""How every page of one case begins and ends: the case one may see, its frame, its actions."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

from django.contrib import messages
from django.forms import BaseForm
from django.http import Http404, HttpResponse
from django.urls import reverse

from cases.domain.casenumber import parse
from cases.models import Case
from cases.selectors.case_page import with_face
from cases.selectors.visible import visible_cases
from cases.views.form_page import posted, show_forms
from cases.views.notation import notation_of
from cases.views.page import LabRequest, SeeOther


@dataclass(frozen=True)
class Action:
    """A small page that does one thing: its sentence, its button, what is said when done."""

    heading: str
    button: str
    done: str
    lede: str = ""
    template: str = "case/action.html"


def the_case(request: LabRequest, number: str) -> Case:
    """Return the case with this number.

    Raises
    ------
    Http404
        There is none, the number is mistyped, or it is not this person's to see.
    """
    person = request.visitor.person
    if person is None:
        raise Http404
    try:
        known = str(parse(number))
    except ValueError as error:
        raise Http404(str(error)) from error
    seen = visible_cases(person, door=request.visitor.door)
    case = with_face(seen).filter(number=known).first()
    if case is None:
        raise Http404
    return case


def frame_of(request: LabRequest) -> str:
    """Return the frame that a page of a case stands in: the bench's on a tablet."""
    return f"case/frame_{'bench' if request.visitor.door == 'bench' else 'web'}.html"


def see_other(case: Case, *, anchor: str = "") -> HttpResponse:
    """Send the browser to the case's page after something was done."""
    where = reverse("cases:case", args=[case.number])
    return SeeOther(f"{where}#{anchor}" if anchor else where)


def show_action(
    request: LabRequest, case: Case, form: BaseForm, action: Action, **context: Any
) -> HttpResponse:
    """Render the page of an action, with what was typed and the refusal beside its field."""
    return show_forms(
        request,
        action.template,
        form,
        case=case,
        frame=frame_of(request),
        notation=notation_of(request),
        action=action,
        back_url=reverse("cases:case", args=[case.number]),
        **context,
    )


def act(
    request: LabRequest,
    case: Case,
    form: BaseForm,
    action: Action,
    run: Callable[[dict[str, Any]], object],
    *,
    anchor: str = "",
    **context: Any,
) -> HttpResponse:
    """Show the form of an action; when it is sent, do it and go back to the case."""
    if request.method == "POST" and posted(form, run) is not None:
        messages.success(request, action.done)
        return see_other(case, anchor=anchor)
    return show_action(request, case, form, action, **context)
