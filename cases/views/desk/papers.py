"""Photographs of a prescription between their upload and the logging of the case.

They come with what is to be covered on them, in one submission, and are stored at once with it
burnt in. From then on they travel in the form as signed references, so that a refused form does
not lose them and nobody can name another file. To be drawn on, their pages are shown from memory;
one that is left out again is deleted.
"""

from __future__ import annotations

import base64
import json
from dataclasses import asdict, dataclass, replace
from typing import Any

from django.core import signing
from django.http import Http404, HttpResponse, JsonResponse
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from cases.models import File
from cases.services.files import (
    EVERY_PAGE,
    MOST_PAGES,
    Cover,
    forget,
    pages_to_look_at,
    path_of,
    take_in,
)
from cases.services.record import Refusal
from cases.views.page import LabRequest, integer, page

FIELD = "papers"
STRIPS = {
    "top-quarter": (gettext_lazy("the top quarter"), Cover(0, 0, 1, 0.25)),
    "top-third": (gettext_lazy("the top third"), Cover(0, 0, 1, 1 / 3)),
    "top-half": (gettext_lazy("the top half"), Cover(0, 0, 1, 0.5)),
    "bottom-third": (gettext_lazy("the bottom third"), Cover(0, 2 / 3, 1, 1 / 3)),
    "bottom-quarter": (gettext_lazy("the bottom quarter"), Cover(0, 0.75, 1, 0.25)),
}
"""What can be covered without drawing, on one page or on all."""
STRIP_ROWS = 3
_signer = signing.Signer(salt="cases.desk.papers")


@dataclass(frozen=True)
class Paper:
    """A stored picture (as ``services.files.Stored``) and the signed text that names it."""

    stored: dict[str, Any]
    token: str

    @property
    def id(self) -> str:
        """Return what the page calls it by."""
        return str(self.stored["sha256"])[:12]


def _covers(text: str) -> dict[int, list[Cover]]:
    """Return the regions to burn in, by place of the upload; unreadable text is refused."""
    found: dict[int, list[Cover]] = {}
    try:
        for region in json.loads(text or "[]"):
            left, top, width, height = (float(region[side]) for side in ("x", "y", "w", "h"))
            box = Cover(left, top, width, height, page=max(0, int(region.get("page", 0))))
            found.setdefault(int(region["file"]), []).append(box)
    except (ValueError, TypeError, KeyError, AttributeError) as error:
        raise Refusal(
            "bad-cover",
            _("What is to be covered cannot be read. Choose the photograph and cover it again."),
            field=FIELD,
        ) from error
    return found


def strip_rows(request: LabRequest) -> list[dict[str, Any]]:
    """Return the rows in which a strip of a page can be chosen, as they were sent."""
    parts = request.POST.getlist(f"{FIELD}_strip")
    pages = request.POST.getlist(f"{FIELD}_strip_page")
    return [
        {
            "part": parts[n] if n < len(parts) else "",
            "page": pages[n] if n < len(pages) else "",
            "parts": [(key, words) for key, (words, _cover) in STRIPS.items()],
            "pages": [str(number) for number in range(1, MOST_PAGES + 1)],
        }
        for n in range(STRIP_ROWS)
    ]


def _strips(request: LabRequest) -> list[Cover]:
    """Return the strips that were chosen; they are covered on that page of every file."""
    found = []
    for row in strip_rows(request):
        if row["part"] in STRIPS:
            number = integer(row["page"])
            page_of = EVERY_PAGE if number is None else number - 1
            found.append(replace(STRIPS[row["part"]][1], page=page_of))
    return found


def _kept(request: LabRequest) -> list[Paper]:
    left_out = set(request.POST.getlist("leave_out"))
    kept = []
    for token in request.POST.getlist("paper"):
        try:
            paper = Paper(_signer.unsign_object(token), token)
        except signing.BadSignature:
            continue  # not from this page: nothing of it is taken
        if paper.id in left_out:
            forget(paper.stored)
        else:
            kept.append(paper)
    return kept


def take_papers(request: LabRequest) -> tuple[list[Paper], list[str]]:
    """Store what was uploaded and return all papers of the form, and what was refused.

    Nothing of an upload is stored when it cannot be told what to cover on it.
    """
    kept = _kept(request)
    uploads = request.FILES.getlist(FIELD)
    try:
        covers = _covers(request.POST.get(f"{FIELD}_cover", ""))
    except Refusal as refusal:
        return kept, [refusal.sentence] if uploads else []
    refused = []
    known = {paper.stored["sha256"] for paper in kept}
    for place, upload in enumerate(uploads):
        try:
            pictures = take_in(upload, covers=[*covers.get(place, ()), *_strips(request)])
        except Refusal as refusal:
            refused.append(f"{upload.name}: {refusal.sentence}")
            continue
        for stored in map(asdict, pictures):
            if stored["sha256"] not in known:
                known.add(stored["sha256"])
                kept.append(Paper(stored, _signer.sign_object(stored)))
    return kept, refused


@page(may="log-cases", methods=("POST",))
def log_pages(request: LabRequest) -> HttpResponse:
    """Show the pages of a file that the browser cannot show, to be drawn on; keep nothing."""
    upload = request.FILES.get("file")
    if upload is None:
        return JsonResponse({"sentence": _("Choose the file again.")}, status=422)
    try:
        pages = pages_to_look_at(upload)
    except Refusal as refusal:
        return JsonResponse({"sentence": refusal.sentence}, status=422)
    shown = [base64.b64encode(one).decode("ascii") for one in pages]
    return JsonResponse({"pages": shown}, headers={"Cache-Control": "no-store"})


@page(may="log-cases")
def log_paper(request: LabRequest, token: str) -> HttpResponse:
    """Show a stored picture of a form that is not logged yet."""
    try:
        stored = _signer.unsign_object(token)
    except signing.BadSignature as error:
        raise Http404 from error
    path = path_of(File(path=stored["path"]))
    if not path.exists():
        raise Http404
    return HttpResponse(path.read_bytes(), content_type=stored["content_type"])
