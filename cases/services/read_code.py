"""Read the code of a ticket or a pan label from a photograph. Nothing of it is stored."""

from __future__ import annotations

import io
from typing import IO

from django.conf import settings
from django.utils.translation import gettext as _

from cases.services.record import Refusal

MOST_PIXELS = 60_000_000


def read_code(upload: IO[bytes]) -> str:
    """Return the text of the first code in a picture.

    Raises
    ------
    Refusal
        ``too-large``, ``not-a-picture``, or ``no-code`` where the picture shows none.
    """
    import zxingcpp
    from PIL import Image, ImageOps, UnidentifiedImageError

    data = upload.read(settings.UPLOAD_MAX_BYTES + 1)
    if len(data) > settings.UPLOAD_MAX_BYTES:
        raise Refusal(
            "too-large", _("The photograph is too large. Take a smaller one."), field="code"
        )
    Image.MAX_IMAGE_PIXELS = MOST_PIXELS
    try:
        with Image.open(io.BytesIO(data)) as opened:
            picture = ImageOps.exif_transpose(opened).convert("L")
    except (UnidentifiedImageError, OSError, ValueError, Image.DecompressionBombError) as error:
        raise Refusal(
            "not-a-picture",
            _("This is not a picture that can be read. Photograph the code, or type the number."),
            field="code",
        ) from error
    for found in zxingcpp.read_barcodes(picture):
        if found.text.strip():
            return str(found.text).strip()
    raise Refusal(
        "no-code",
        _("No code was found in the photograph. Hold it straight and closer, or type the number."),
        field="code",
    )
