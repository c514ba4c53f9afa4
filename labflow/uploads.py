"""Uploads stay in memory until they are re-encoded: no uncovered page ever lies on a disk."""

from __future__ import annotations

import io
from typing import Any

from django.conf import settings
from django.core.files.uploadedfile import InMemoryUploadedFile
from django.core.files.uploadhandler import FileUploadHandler


class InMemoryHandler(FileUploadHandler):
    """Keep an upload in memory, whatever its size; read no more of it than is allowed.

    Django's own handlers write what is larger than a few megabytes to a temporary file, and a
    process that is killed leaves that file behind. A file beyond the limit is still counted to
    its end, so that it is refused for its size in words.
    """

    def new_file(self, *args: Any, **kwargs: Any) -> None:
        """Begin the next file of the request."""
        super().new_file(*args, **kwargs)
        self.kept = io.BytesIO()

    def receive_data_chunk(self, raw_data: bytes, start: int) -> bytes | None:
        """Keep a piece, up to one byte beyond the limit."""
        room = settings.UPLOAD_MAX_BYTES + 1 - start
        if room > 0:
            self.kept.write(raw_data[:room])
        return None

    def file_complete(self, file_size: int) -> InMemoryUploadedFile:
        """Hand the file over with the size it really has."""
        self.kept.seek(0)
        return InMemoryUploadedFile(
            file=self.kept,
            field_name=self.field_name,
            name=self.file_name,
            content_type=self.content_type,
            size=file_size,
            charset=self.charset,
            content_type_extra=self.content_type_extra,
        )
