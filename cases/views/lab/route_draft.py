"""The draft of the route: edits gather in the manager's own session until they are saved."""

from __future__ import annotations

from dataclasses import dataclass

from django.contrib import messages
from django.http import Http404
from django.urls import reverse
from django.utils.translation import gettext as _

from cases.domain.route import RouteProblem, RouteTemplate
from cases.models import RouteVersion
from cases.selectors.lab import latest_route
from cases.views.page import LabRequest

KEY = "route-draft"


@dataclass(frozen=True)
class Draft:
    """The newest saved version, and the route as edited so far."""

    saved: RouteVersion
    template: RouteTemplate
    changed: bool

    @property
    def names(self) -> dict[str, str]:
        """Return the names of the stages by key."""
        return {stage.key: stage.name for stage in self.template.stages}


def draft_of(request: LabRequest) -> Draft:
    """Return the draft of this session, or the saved route when there is none.

    A draft made from an older version is put away, and says so.
    """
    saved = latest_route()
    if saved is None:
        raise Http404
    kept = request.session.get(KEY)
    if kept and kept["base"] != saved.version:
        discard(request)
        messages.warning(
            request,
            _("Somebody saved another version of the route meanwhile; your changes to the older "
              "one were put away. Make them again on this one."),
        )  # fmt: skip
        kept = None
    document = kept["document"] if kept else saved.document
    return Draft(saved, RouteTemplate.from_json(document), bool(kept))


def keep(request: LabRequest, draft: Draft, template: RouteTemplate) -> None:
    """Keep an edited route in the session."""
    document = template.to_json()
    if RouteTemplate.from_json(document) == RouteTemplate.from_json(draft.saved.document):
        discard(request)
        return
    request.session[KEY] = {"base": draft.saved.version, "document": document}


def discard(request: LabRequest) -> None:
    """Forget the draft."""
    request.session.pop(KEY, None)


def address_of(problem: RouteProblem, draft: Draft) -> str:
    """Return where a problem can be mended, or nothing."""
    kind, *rest = problem.field.split(".")
    names = draft.names
    if kind == "stages" and rest and rest[0] in names:
        return reverse("cases:route-stage", args=[rest[0]])
    if kind == "edges" and len(rest) > 1 and rest[1] in names:
        return reverse("cases:route-stage", args=[rest[1]])
    if kind == "checks" and rest and rest[0].isdigit():
        return reverse("cases:route-check", args=[int(rest[0])])
    return ""
