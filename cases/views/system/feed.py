"""The address to which temperatures of a bath are sent: by a token, and by nothing else."""

from __future__ import annotations

from django.http import HttpResponse, JsonResponse, UnreadablePostError
from django.utils.translation import gettext as _
from django.views.decorators.csrf import csrf_exempt

from cases.services.bath_record import zone
from cases.services.feed_in import feed_of, take_in
from cases.services.feed_rows import MOST_BYTES, rows_sent
from cases.views.page import OPEN, LabRequest, page

KINDS = {"application/json": "json", "text/csv": "csv"}


# No form of a browser comes here and no cookie opens it, so there is nothing to forge.
@csrf_exempt
@page(may=OPEN, methods=("POST",))
def feed(request: LabRequest) -> HttpResponse:
    """Take in temperatures of the bath that the token belongs to: all rows or none.

    Answers with JSON: ``new`` and ``known`` rows, or one ``error``.
    """
    scheme, _space, token = request.headers.get("Authorization", "").partition(" ")
    found = feed_of(token.strip()) if scheme.lower() == "bearer" and token.strip() else None
    if found is None:
        response = _error(401, _("No feed has this token. Ask the manager for a new one."))
        response["WWW-Authenticate"] = "Bearer"
        return response
    kind = KINDS.get((request.content_type or "").lower())
    if kind is None:
        return _error(415, _("Send application/json or text/csv."))
    length = request.headers.get("Content-Length", "")
    if not length.isdecimal():
        return _error(411, _("Say how long the body is (Content-Length)."))
    if int(length) > MOST_BYTES:
        most = MOST_BYTES // 1024
        return _error(413, _("The body is larger than %(most)d kB. Send less.") % {"most": most})
    data = _body(request)
    if len(data) != int(length):
        # What came is a part of it: the last row may be cut in the middle of a number.
        return _error(400, _("The body broke off. Send it again."))
    try:
        rows = rows_sent(data, kind, zone(), request.now, found.last_at)
    except ValueError as error:
        return _error(422, str(error))
    taken = take_in(found, rows)
    return JsonResponse({"new": taken.new, "known": taken.known})


def _body(request: LabRequest) -> bytes:
    """Return what came of the body."""
    try:
        return request.body
    except UnreadablePostError:
        return b""


def _error(status: int, sentence: str) -> HttpResponse:
    return JsonResponse({"error": sentence}, status=status)
