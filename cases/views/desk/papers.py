"""Photographs of a prescription between their upload and the logging of the case.

They are stored at once, with covered regions burnt in, and travel in the form as signed
references, so that a refused form does not lose them and nobody can name another file.
"""

from __future__ import annotations

import json
from dataclasses import asdict, dataclass
from typing import Any

from django.core import signing
from django.http import Http404, HttpResponse
from django.utils.translation import gettext as _

from cases.models import File
from cases.services.files import Cover, path_of, take_in
from cases.services.record import Refusal
from cases.views.page import LabRequest, page

FIELD = "papers"
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
            box = Cover(*(float(region[side]) for side in ("x", "y", "w", "h")))
            found.setdefault(int(region["file"]), []).append(box)
    except (ValueError, TypeError, KeyError) as error:
        raise Refusal(
            "bad-cover",
            _("What is to be covered cannot be read. Choose the photograph and cover it again."),
            field=FIELD,
        ) from error
    return found


def _kept(request: LabRequest) -> list[Paper]:
    left_out = set(request.POST.getlist("leave_out"))
    kept = []
    for token in request.POST.getlist("paper"):
        try:
            paper = Paper(_signer.unsign_object(token), token)
        except signing.BadSignature:
            continue  # not from this page: nothing of it is taken
        if paper.id not in left_out:
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
            pictures = take_in(upload, covers=covers.get(place, ()))
        except Refusal as refusal:
            refused.append(f"{upload.name}: {refusal.sentence}")
            continue
        for stored in map(asdict, pictures):
            if stored["sha256"] not in known:
                known.add(stored["sha256"])
                kept.append(Paper(stored, _signer.sign_object(stored)))
    return kept, refused


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
