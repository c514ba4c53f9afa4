"""Uploads: re-encoded, stripped of what they carry besides the picture, stored by content.

``take_in`` is called before a verb, outside its transaction: bytes are written under their own
hash, so a file that no row names afterwards is harmless. ``attach`` makes the row.
"""

from __future__ import annotations

import hashlib
import io
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from pathlib import Path
from typing import IO, Any

from django.conf import settings
from django.utils.translation import gettext as _

from cases.models import Case, File
from cases.selectors.rows import find, only
from cases.services.record import Recorder, Refusal, verb

LONGEST_SIDE = 2400
"""Pixels: a photograph is made no larger than this. Judgement: text stays readable in print."""
LONGEST_TO_LOOK_AT = 1400
"""Pixels of a page that is shown to be covered. Judgement: a name can be found on it."""
MOST_PIXELS = 60_000_000
MOST_PAGES = 10
JPEG_QUALITY = 85
PDF_SCALE = 2.0
"""144 dots an inch for a page given as PDF."""


@dataclass(frozen=True)
class Stored:
    """A picture on disk: ``path`` below the files folder, ``sha256`` of its bytes."""

    sha256: str
    size: int
    path: str
    content_type: str = "image/jpeg"


@dataclass(frozen=True)
class Cover:
    """A rectangle to burn in on one page, as fractions of its width and height (0..1).

    ``page`` counts from 0; a photograph is page 0. ``EVERY_PAGE`` means each of them.
    """

    left: float
    top: float
    width: float
    height: float
    page: int = 0


EVERY_PAGE = -1


UNNAMED_FOR = timedelta(days=1)
"""How long a form may stand open with a picture that no case names yet. Judgement."""
AT_ONCE = 500


def _refuse_size(size: int | None) -> None:
    limit = settings.UPLOAD_MAX_BYTES
    if size is not None and size > limit:
        raise Refusal(
            "too-large",
            _("The file is larger than %(most)d MB. Take a smaller photograph.")
            % {"most": limit // (1024 * 1024)},
            field="file",
        )


def _pages(data: bytes) -> list[Any]:
    """Return the pictures in ``data``: one photograph, or the pages of a PDF."""
    from PIL import Image, ImageOps, UnidentifiedImageError

    if data.startswith(b"%PDF-"):
        return _pdf_pages(data)
    Image.MAX_IMAGE_PIXELS = MOST_PIXELS
    try:
        picture = Image.open(io.BytesIO(data))
        picture.load()
    except (UnidentifiedImageError, OSError, ValueError, Image.DecompressionBombError) as error:
        raise Refusal(
            "not-a-picture",
            _("This is not a picture that can be read. Send a photograph (JPEG, PNG) or a PDF."),
            field="file",
        ) from error
    return [ImageOps.exif_transpose(picture)]


def _pdf_pages(data: bytes) -> list[Any]:
    import pypdfium2

    try:
        document = pypdfium2.PdfDocument(data)
    except pypdfium2.PdfiumError as error:
        raise Refusal(
            "not-a-picture",
            _("This PDF cannot be read. Scan it again or photograph it."),
            field="file",
        ) from error
    try:
        if len(document) > MOST_PAGES:
            raise Refusal(
                "too-many-pages",
                _("A PDF may have %(most)d pages. Send the page that counts.")
                % {"most": MOST_PAGES},
                field="file",
            )
        return [page.render(scale=PDF_SCALE).to_pil() for page in document]
    finally:
        document.close()


def _encode(picture: Any, covers: Sequence[Cover], longest: int = LONGEST_SIDE) -> bytes:
    """Return JPEG bytes without metadata, no larger than allowed, with ``covers`` burnt in."""
    from PIL import Image, ImageDraw

    flat = picture.convert("RGB")
    if covers:
        draw = ImageDraw.Draw(flat)
        wide, high = flat.size
        for cover in covers:
            box = (
                cover.left * wide,
                cover.top * high,
                (cover.left + cover.width) * wide,
                (cover.top + cover.height) * high,
            )
            draw.rectangle(box, fill=(20, 20, 20))
    flat.thumbnail((longest, longest), Image.Resampling.LANCZOS)
    out = io.BytesIO()
    flat.save(out, "JPEG", quality=JPEG_QUALITY, optimize=True)
    return out.getvalue()


def pages_to_look_at(upload: IO[bytes]) -> list[bytes]:
    """Return the pages of an upload as small pictures, to be drawn on; nothing is stored.

    Raises
    ------
    Refusal
        As ``take_in``.
    """
    return [_encode(page, (), LONGEST_TO_LOOK_AT) for page in _read(upload)]


def write_bytes(data: bytes, suffix: str, content_type: str) -> Stored:
    """Write ``data`` under its own hash and return where."""
    digest = hashlib.sha256(data).hexdigest()
    relative = f"{digest[:2]}/{digest}{suffix}"
    target = Path(settings.MEDIA_ROOT) / relative
    if not target.exists():
        target.parent.mkdir(parents=True, exist_ok=True)
        partial = target.with_suffix(".part")
        partial.write_bytes(data)
        partial.replace(target)
    else:
        target.touch()  # taken in anew: not yet old enough for `drop_unnamed`
    return Stored(digest, len(data), relative, content_type)


def _read(upload: IO[bytes]) -> list[Any]:
    _refuse_size(getattr(upload, "size", None))
    data = upload.read(settings.UPLOAD_MAX_BYTES + 1)
    _refuse_size(len(data))
    return _pages(data)


def take_in(upload: IO[bytes], *, covers: Sequence[Cover] = ()) -> list[Stored]:
    """Re-encode an upload and write it; a PDF gives one picture a page.

    ``covers`` are burnt into the pictures of their pages before anything is stored.

    Raises
    ------
    Refusal
        ``too-large``, ``not-a-picture``, ``too-many-pages``; ``no-such-page`` when a region
        lies on a page that is not there. Nothing is stored then.
    """
    pages = _read(upload)
    if any(cover.page >= len(pages) for cover in covers):
        raise Refusal(
            "no-such-page",
            _("There is no page %(page)s to cover; it has %(count)s. Look at it again.")
            % {"page": max(cover.page for cover in covers) + 1, "count": len(pages)},
            field="file",
        )
    encoded = [
        _encode(page, [cover for cover in covers if cover.page in {n, EVERY_PAGE}])
        for n, page in enumerate(pages)
    ]
    return [write_bytes(one, ".jpg", "image/jpeg") for one in encoded]


def attach(
    record: Recorder,
    stored: dict[str, Any],
    *,
    case: Case | None,
    kind: str,
    words: str = "",
    visible_to_practice: bool = False,
) -> File:
    """Create the row of a stored file under the current event."""
    return record.create(
        File,
        case=case,
        kind=kind,
        sha256=stored["sha256"],
        content_type=stored["content_type"],
        size=stored["size"],
        path=stored["path"],
        words=words[:120],
        visible_to_practice=visible_to_practice,
        by=record.person,
        at=record.now,
    )


@verb("file.attach", may="note")
def attach_file(
    record: Recorder,
    *,
    case: int,
    kind: str,
    stored: dict[str, Any],
    words: str = "",
    visible_to_practice: bool = False,
) -> dict[str, Any]:
    """Attach a picture that ``take_in`` stored to a case.

    ``kind`` is ``photo``, ``prescription``, or ``before-<stage key>`` for the photograph
    before a point of no return.
    """
    row = only(find(Case, id=case))
    if row is None:
        raise Refusal("no-case", _("There is no such case. Look the number up again."))
    record.event("file.attached", case=row, subject=kind, sha256=stored["sha256"])
    file = attach(
        record, stored, case=row, kind=kind, words=words, visible_to_practice=visible_to_practice
    )
    return {"file": file.pk}


def forget(stored: dict[str, Any]) -> None:
    """Delete bytes that ``take_in`` stored and that no case names."""
    if not File.objects.filter(path=stored["path"]).exists():
        (Path(settings.MEDIA_ROOT) / stored["path"]).unlink(missing_ok=True)


def drop_unnamed(now: datetime) -> int:
    """Delete stored bytes that no row names and nobody took in for a day; return how many.

    They are pictures of forms that were left unsent, perhaps with a name that nobody covered yet.
    """
    root = Path(settings.MEDIA_ROOT)
    old = [
        path
        for path in root.glob("??/*")
        if now.timestamp() - path.stat().st_mtime > UNNAMED_FOR.total_seconds()
    ]
    gone = 0
    for begin in range(0, len(old), AT_ONCE):
        some = {path.relative_to(root).as_posix(): path for path in old[begin : begin + AT_ONCE]}
        named = set(File.objects.filter(path__in=some).values_list("path", flat=True))
        for relative, path in some.items():
            if relative not in named:
                path.unlink(missing_ok=True)
                gone += 1
    return gone


def path_of(file: File) -> Path:
    """Return where the bytes of a file are."""
    return Path(settings.MEDIA_ROOT) / file.path
