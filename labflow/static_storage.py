"""Static files with a content hash in their name."""

from __future__ import annotations

from whitenoise.storage import CompressedManifestStaticFilesStorage


class HashedStaticStorage(CompressedManifestStaticFilesStorage):  # type: ignore[misc]
    """Rewrite the imports of ES modules too.

    Otherwise a module reached by a hashed name from a page and by its plain name from another
    module would be two modules, each with its own state.
    """

    support_js_module_import_aggregation = True
