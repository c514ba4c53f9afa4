"""Students' work that waits for a second person's signature."""

from __future__ import annotations

from typing import Any

from django.contrib import messages
from django.core.paginator import Paginator
from django.http import Http404, HttpResponse
from django.urls import reverse
from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from cases.domain.checks import PlannedCheck, told_of
from cases.forms.manage import SIGN, CountersignForm
from cases.models import CheckItem, Countersign
from cases.selectors import flow
from cases.services.countersign import countersign
from cases.views.form_page import posted, show_forms
from cases.views.notation import notation_of
from cases.views.page import LabRequest, SeeOther, page, send

PER_PAGE = 12


def _entered(item: CheckItem) -> str:
    """Return what was entered for a check, in words."""
    values = item.values.get("values") or {}
    spec = PlannedCheck.from_json(item.spec)
    said = []
    if item.spec["yes_no"] and item.values.get("yes") is not None:
        said.append(_("Yes") if item.values["yes"] else _("No"))
    said += [
        " ".join(
            [
                f"{measure['words']} {values[measure['key']]:g} {measure['unit']}".strip(),
                *told_of(spec, measure["key"], item.values.get("words") or {}),
            ]
        )
        for measure in item.spec["measures"]
        if values.get(measure["key"]) is not None
    ]
    return ", ".join(said)


def _row(one: Countersign, form: CountersignForm | None) -> dict[str, Any]:
    checks = [
        {"item": item, "entered": _entered(item), "photos": [
            photo for photo in item.photos.all() if photo.attempt == one.run.attempt]}
        for item in one.stage.checks.all()
    ]  # fmt: skip
    design = one.stage.case.design
    milk = frozenset(design.data.get("primary") or ()) if design else frozenset()
    mine = form if form is not None else CountersignForm(auto_id=f"sign{one.pk}_%s")
    return {"row": one, "checks": checks, "form": mine, "milk": milk}


def _show(
    request: LabRequest, *, form: CountersignForm | None = None, pk: int | None = None
) -> HttpResponse:
    person = request.visitor.person
    assert person is not None  # noqa: S101 - ``page`` let nobody else in
    waiting = flow.with_checks(flow.to_countersign(person)).select_related("run")
    rows = Paginator(waiting, PER_PAGE).get_page(request.GET.get("page"))
    n = rows.paginator.count
    said = ngettext(
        "One stage waits for your signature.", "%(n)s stages wait for your signature.", n
    )
    return show_forms(
        request,
        "manage/countersigns.html",
        form,
        heading=said % {"n": n} if n else _("Nothing waits for your signature."),
        rows=rows,
        waiting=[_row(one, form if one.pk == pk else None) for one in rows],
        refused_elsewhere=form is not None and pk not in {one.pk for one in rows},
        notation=notation_of(request),
        at_bench=request.visitor.door == "bench",
    )


@page(may="countersign")
def countersigns(request: LabRequest) -> HttpResponse:
    """Show what this person may sign."""
    return _show(request)


@page(may="countersign", methods=("POST",))
def sign(request: LabRequest, pk: int) -> HttpResponse:
    """Sign a student's stage, or return it."""
    found = Countersign.objects.filter(pk=pk).select_related("stage__case").first()
    if found is None:
        raise Http404
    form = CountersignForm(request.POST, auto_id=f"sign{pk}_%s")

    def run(data: dict[str, Any]) -> object:
        agreed = data["decision"] == SIGN
        return send(request, countersign, request=pk, agreed=agreed, words=data["words"])

    if posted(form, run) is None:
        return _show(request, form=form, pk=pk)
    parts = {"stage": found.stage.name, "case": found.stage.case.number}
    signed = form.cleaned_data["decision"] == SIGN
    said = _("Signed: %(stage)s of %(case)s.") if signed else _("Returned: %(stage)s of %(case)s.")
    messages.success(request, said % parts)
    return SeeOther(reverse("cases:countersigns"))
