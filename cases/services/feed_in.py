"""Live temperatures come in: sent with a token, or read from a logger's growing file.

Not a verb: a sample is a measurement that nobody decided, and there are thousands of them. They
are kept in a table of their own, one in ten seconds, and thrown away after two weeks.
"""

from __future__ import annotations

import hashlib
import hmac
import os
import stat
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from pathlib import Path
from typing import Final

from django.conf import settings
from django.db import transaction
from django.db.models import Q
from django.utils.translation import gettext as _

from cases.domain.cure.feed import Layout, Sample, find_layout, hear
from cases.models import BathFeed, BathSample, Load
from cases.services.bath_record import zone
from cases.services.secrets import token_digest

SLOT_S: Final = 10
"""A dose of heat is reckoned on steps of half a minute; a reading more often adds nothing."""
KEPT: Final = timedelta(days=14)
HEAD_BYTES: Final = 4096
"""So much of a file tells its layout, and whether it is still the same file."""
MOST_AT_ONCE: Final = 1024 * 1024
"""So much of a file is read in one turn; what is left follows in the next."""


@dataclass(frozen=True)
class TakenIn:
    """What became of samples: how many are new, and how many were there or too near another."""

    new: int
    known: int


def feed_of(token: str) -> BathFeed | None:
    """Return the feed that a token opens, or None.

    Every token in use is compared, in constant time, so that how long it takes says nothing.
    """
    wanted = token_digest(token)
    found = None
    for feed in BathFeed.objects.filter(kind="post", ended_at__isnull=True).select_related("bath"):
        if hmac.compare_digest(feed.token_hash, wanted):
            found = feed
    return found


def take_in(feed: BathFeed, samples: Sequence[Sample]) -> TakenIn:
    """Keep samples of a bath; the same ones again change nothing."""
    slots: dict[int, Sample] = {}
    for sample in samples:
        slots.setdefault(int(sample.at.timestamp()) // SLOT_S, sample)
    with transaction.atomic():
        wanted = BathSample.objects.filter(bath=feed.bath_id)
        there = set(wanted.filter(slot__in=list(slots)).values_list("slot", flat=True))
        BathSample.objects.bulk_create(
            [
                BathSample(bath_id=feed.bath_id, slot=slot, at=one.at, celsius=one.celsius)
                for slot, one in sorted(slots.items())
                if slot not in there
            ],
            ignore_conflicts=True,
        )
        newest = max(samples, key=lambda sample: sample.at, default=None)
        if newest is not None:
            earlier = Q(last_at__isnull=True) | Q(last_at__lt=newest.at)
            BathFeed.objects.filter(earlier, pk=feed.pk).update(
                last_at=newest.at, last_celsius=newest.celsius
            )
    new = len(slots) - len(there)
    return TakenIn(new, len(samples) - new)


def read_files(now: datetime) -> int:
    """Read what has been added to the files of all feeds; return how many samples are new.

    One feed that cannot be read says so and keeps no other from being read.
    """
    new = 0
    feeds = BathFeed.objects.filter(kind="file", ended_at__isnull=True)
    for pk in list(feeds.values_list("pk", flat=True)):
        try:
            new += read_file(pk, now)
        except OSError as error:
            _say(pk, _("The file cannot be read: %(why)s.") % {"why": error.strerror or error})
    return new


def _say(pk: int, trouble: str) -> None:
    BathFeed.objects.filter(pk=pk).exclude(trouble=trouble[:400]).update(trouble=trouble[:400])


def read_file(pk: int, now: datetime) -> int:
    """Read what has been added to the file of one feed; return how many samples are new.

    Samples, and how far the file was read, are kept in one transaction: a worker that dies in
    between reads the same rows again, and finds them known.
    """
    with transaction.atomic():
        feed = BathFeed.objects.select_for_update(skip_locked=True).filter(pk=pk).first()
        if feed is None or feed.ended_at is not None:
            return 0
        data = _added(feed)
        if data is None:
            return 0
        text, size = data
        samples, trouble = _understood(feed, text, now)
        new = take_in(feed, samples).new if samples else 0
        if feed.layout is not None:
            feed.offset += size
        if samples or trouble:
            feed.trouble = trouble[:400]
        feed.save(update_fields=["offset", "head", "layout", "trouble"])
        return new


def file_of(feed: BathFeed) -> Path:
    """Return the file of a feed: a plain name in the folder of feeds, and nowhere else."""
    return Path(settings.FEED_DIR) / Path(feed.file_name).name


def _added(feed: BathFeed) -> tuple[str, int] | None:
    """Return whole lines that were added, and of how many bytes they were; None for none.

    A last line without its end is left for the next turn. A file that is shorter than what was
    read, or begins otherwise, is another one: it is read from its beginning.
    """
    try:
        handle = os.open(file_of(feed), os.O_RDONLY | os.O_NOFOLLOW | os.O_NONBLOCK)
    except FileNotFoundError:
        if feed.layout is None:
            _say(feed.pk, _("There is no file “%(name)s” yet.") % {"name": feed.file_name})
        return None
    with os.fdopen(handle, "rb") as file:
        told = os.fstat(file.fileno())
        if not stat.S_ISREG(told.st_mode):
            raise OSError(_("it is no plain file"))
        _same_file(feed, file.read(HEAD_BYTES), told.st_size)
        file.seek(feed.offset)
        data = file.read(MOST_AT_ONCE)
    whole = data[: data.rfind(b"\n") + 1]
    if not whole:
        return None
    if whole.startswith((b"\xff\xfe", b"\xfe\xff")) or b"\x00" in whole[:HEAD_BYTES]:
        _say(feed.pk, _("The file is no plain text. Have the logger write CSV in UTF-8."))
        return None
    try:
        return whole.decode("utf-8-sig"), len(whole)
    except UnicodeDecodeError:
        # Loggers' programs on older machines write so; every byte reads as something there.
        return whole.decode("cp1252", errors="replace"), len(whole)


def _same_file(feed: BathFeed, head: bytes, size: int) -> None:
    """Begin anew where the file is another one than the one that was read so far."""
    known, _mark, digest = feed.head.partition(":")
    length = int(known or 0)
    same = hashlib.sha256(head[:length]).hexdigest()[:64] == digest if length else feed.offset == 0
    if not same or size < feed.offset:
        feed.offset, feed.layout = 0, None
    feed.head = f"{len(head)}:{hashlib.sha256(head).hexdigest()}"


def _understood(
    feed: BathFeed, text: str, now: datetime
) -> tuple[tuple[Sample, ...], str]:  # fmt: skip
    if feed.layout is None:
        try:
            head = text[: 16 * HEAD_BYTES]
            head = head[: head.rfind("\n") + 1]
            layout = find_layout(head, unit=feed.unit, order=feed.order, column=feed.column)
        except ValueError as error:
            return (), str(error)
        feed.layout = layout.as_json()
    else:
        layout = Layout.from_json(feed.layout)
    heard = hear(text, layout, zone(), now, feed.last_at, begins=feed.offset == 0)
    return heard.samples, heard.trouble


def drop_old(now: datetime) -> int:
    """Throw away samples that are older than two weeks, but for those of loads in a bath."""
    busy = Load.objects.filter(state="running").values("bath")
    old = BathSample.objects.filter(at__lt=now - KEPT).exclude(bath__in=busy)
    return old.delete()[0]
