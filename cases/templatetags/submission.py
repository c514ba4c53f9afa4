"""A fresh id for each form of a page: ``{% load submission %}…{% submission %}``.

A page with several forms needs several ids: one id with two bodies is refused.
"""

from __future__ import annotations

import uuid

from django import template
from django.utils.html import format_html
from django.utils.safestring import SafeString

register = template.Library()


@register.simple_tag
def submission() -> SafeString:
    """Return the hidden field with the id of what a person is about to do."""
    return format_html('<input type="hidden" name="submission_id" value="{}">', uuid.uuid4())
