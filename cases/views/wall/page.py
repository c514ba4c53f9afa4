"""The wall: one page for a screen that hangs there, and the fragment that it asks for."""

from __future__ import annotations

from django.http import Http404, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django_htmx.http import HttpResponseClientRedirect

from cases.selectors import wall as selected
from cases.selectors.alarms import open_alarms
from cases.selectors.feeds import last_heats
from cases.services.alarms import alarm_words
from cases.views.frame import heartbeat_words
from cases.views.load.heat import heat_words
from cases.views.page import OPEN, LabRequest, page
from cases.views.wall.words import bath_words, dough_words


@page(may=OPEN)
def wall(request: LabRequest) -> HttpResponse:
    """Show the wall; an enrolled tablet shows it while nobody is signed in."""
    visitor = request.visitor
    if visitor.tablet is None and not visitor.may("see-cases"):
        if visitor.person is not None:
            raise Http404
        if request.htmx:
            return HttpResponseClientRedirect(reverse("cases:sign-in"))
        return redirect(f"{reverse('cases:sign-in')}?next={request.path}")
    stale, alarms = heartbeat_words(request.now), open_alarms(request.now)
    found = selected.wall(request.now, banners=len(alarms) + bool(stale))
    heats = last_heats([one.bath.pk for one in found.baths], request.now)
    context = {
        "baths": [
            bath_words(bath, heat_words(heats.get(bath.bath.pk)), request.now)
            for bath in found.baths
        ],
        "running": sum(bath.running for bath in found.baths),
        "waits": found.waits,
        "others": found.others,
        "first": found.place,
        "last": found.place + len(found.others) - 1,
        "count": found.count,
        "doughs": [dough_words(mix, request.now) for mix in found.doughs],
        "now": request.now,
        # Without scripts the page itself tells them; with scripts they come every 15 s and sound.
        "alarms": [(alarm_words(alarm.timer), alarm.timer.case) for alarm in alarms],
        "stale": stale,
    }
    return render(request, "wall/_wall.html" if request.htmx else "wall/wall.html", context)
