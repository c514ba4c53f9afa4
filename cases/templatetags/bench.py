"""What the bench's templates need: ``{% fresh_id as x %}`` and ``{{ typed|at:kind }}``."""

from __future__ import annotations

import uuid
from collections.abc import Mapping
from typing import Any

from django import template

register = template.Library()


@register.simple_tag
def fresh_id() -> uuid.UUID:
    """Return a new submission id for a component that takes one."""
    return uuid.uuid4()


@register.filter
def at(entries: Mapping[str, Any] | None, key: str) -> Any:
    """Return the entry called ``key``, or an empty text."""
    return (entries or {}).get(key, "") if isinstance(entries, Mapping) else ""
