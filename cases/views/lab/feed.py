"""The feed of a bath: where its live temperatures come from, what it told last, its token."""

from __future__ import annotations

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext as _

from cases.forms.feed import BindForm, EndForm, OpenForm
from cases.models import Bath
from cases.selectors.feeds import feeds_of, last_heat
from cases.services.feeds import bind_file, end_feed, open_to_token
from cases.views.form_page import posted, section
from cases.views.lab.steps import show_step
from cases.views.load.heat import heat_words
from cases.views.page import LabRequest, envelope, integer, page, send


@page(may="settings", methods=("GET", "POST"))
def feed(request: LabRequest, pk: int) -> HttpResponse:
    """Show the feed of a bath; bind it to a file, open it to a token, or end it."""
    bath = get_object_or_404(Bath, pk=pk)
    bind, made, end = (
        section(request, what, form)
        for what, form in (("bind", BindForm), ("open", OpenForm), ("end", EndForm))
    )
    token = ""
    bound = posted(bind, lambda data: send(request, bind_file, bath=pk, **data))
    if bound:
        messages.success(request, _("The file is bound. Its rows come in within half a minute."))
        return redirect("cases:bath-feed", pk)
    if made.is_bound:
        opened = posted(made, lambda data: open_to_token(envelope(request), bath=pk, **data))
        token = opened[1] if opened else ""
    number = integer(request.POST.get("feed")) or 0
    done = posted(end, lambda _data: send(request, end_feed, feed=number))
    if done:
        messages.success(request, _("The feed is ended. Its token opens nothing any more."))
        return redirect("cases:bath-feed", pk)
    running, ended = feeds_of(bath)
    refused = next((form for form in (bind, made, end) if form.is_bound and form.errors), None)
    return show_step(
        request,
        "lab/feed.html",
        refused,
        step="cases:baths",
        bath=bath,
        feed=running,
        ended=ended,
        heat=heat_words(last_heat(running, request.now)) if running else None,
        bind_form=bind,
        open_form=made,
        token=token,
        example_at=timezone.localtime(request.now).isoformat(timespec="seconds"),
        address=request.build_absolute_uri(reverse("cases:feed")),
    )
