"""Feeds of the baths: bound to a logger's file, or opened with a token; ended by a manager."""

from __future__ import annotations

import re
from typing import Any

from django.utils.translation import gettext as _

from cases.domain.cure.feed import ORDERS
from cases.models import Bath, BathFeed
from cases.services.record import Envelope, Outcome, Recorder, Refusal, verb
from cases.services.secrets import one_time_token, token_digest

FILE_NAME = re.compile(r"[^/\\\x00-\x1f]{1,120}")


def _bath(pk: int) -> Bath:
    row = Bath.objects.select_for_update().filter(pk=pk, active=True).first()
    if row is None:
        raise Refusal("no-bath", _("There is no such bath in use. Look at the list of baths."))
    return row


def _refuse_second(bath: Bath) -> None:
    if BathFeed.objects.filter(bath=bath, ended_at__isnull=True).exists():
        raise Refusal(
            "has-feed",
            _("%(bath)s has a feed already. End that one first.") % {"bath": bath.name},
        )


@verb("feed.bind", may="settings")
def bind_file(
    record: Recorder, *, bath: int, file_name: str, unit: str = "C", order: str = "",
    column: str = "", probe: str = "",
) -> dict[str, Any]:  # fmt: skip
    """Say which file in the folder of feeds has the temperatures of a bath, and how it is read.

    Raises
    ------
    Refusal
        ``no-bath``, ``has-feed``, ``bad-file`` for what is no plain name, ``file-taken``.
    """
    row = _bath(bath)
    _refuse_second(row)
    file_name = file_name.strip()
    if not FILE_NAME.fullmatch(file_name) or file_name.startswith("."):
        raise Refusal(
            "bad-file",
            _("Enter the file's plain name, such as bath-1.csv, without a folder."),
            field="file_name",
        )
    taken = BathFeed.objects.filter(file_name=file_name, kind="file", ended_at__isnull=True)
    if taken.exists():
        raise Refusal(
            "file-taken",
            _("This file is bound to %(bath)s.") % {"bath": taken.get().bath.name},
            field="file_name",
        )
    if unit not in {"C", "F"} or order not in ORDERS:
        raise Refusal("bad-layout", _("Choose °C or °F, and how the date is written."))
    record.event("feed.bound", subject=row.name)
    made = record.create(
        BathFeed,
        bath=row,
        kind="file",
        file_name=file_name,
        unit=unit,
        order=order,
        column=column.strip()[:60],
        probe=probe.strip()[:40],
        made_at=record.now,
        made_by=record.actor,
    )
    return {"feed": made.pk}


def open_to_token(envelope: Envelope, *, bath: int, probe: str = "") -> tuple[Outcome, str]:
    """Make a token with which the temperatures of a bath are sent.

    Returns
    -------
    (Outcome, str)
        What was stored, and the token: it is shown once and stored nowhere.
    """
    token = one_time_token(envelope.submission_id, "feed")
    outcome = _open(envelope, bath=bath, probe=probe.strip(), digest=token_digest(token))
    return outcome, token


@verb("feed.open", may="settings")
def _open(record: Recorder, *, bath: int, probe: str, digest: str) -> dict[str, Any]:
    row = _bath(bath)
    _refuse_second(row)
    record.event("feed.opened", subject=row.name)
    made = record.create(
        BathFeed,
        bath=row,
        kind="post",
        token_hash=digest,
        probe=probe[:40],
        made_at=record.now,
        made_by=record.actor,
    )
    return {"feed": made.pk}


@verb("feed.end", may="settings")
def end_feed(record: Recorder, *, feed: int) -> dict[str, Any]:
    """End a feed: its file is read no more, its token opens nothing."""
    row = BathFeed.objects.select_for_update().filter(pk=feed, ended_at__isnull=True).first()
    if row is None:
        raise Refusal("no-feed", _("There is no such feed. Load the page again."))
    record.event("feed.ended", subject=row.bath.name)
    record.change(row, ended_at=record.now, ended_by=record.actor)
    return {"feed": row.pk}
