"""What templates say of the plan's times: ``{{ row.begins_at|clock:now }}``."""

from __future__ import annotations

from datetime import datetime

from django import template

from cases.views.plan.words import at_words

register = template.Library()


@register.filter
def clock(instant: datetime, now: datetime) -> str:
    """Return a time of the lab, with its day where it is not today."""
    return at_words(instant, now)
