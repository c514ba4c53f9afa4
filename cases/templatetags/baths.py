"""What a bath's record said of a load: ``{% bath_said load %}``, ``{% bath_decision record %}``."""

from __future__ import annotations

from typing import Any

from django import template

from cases.models import BathRecord, Load
from cases.views.load.said import newest_of, said_of

register = template.Library()


@register.inclusion_tag("load/_said.html")
def bath_said(load: Load) -> dict[str, Any]:
    """Show what the last record of a load said and what was decided, with a link to it."""
    return {"load": load, "said": newest_of(load)}


@register.inclusion_tag("load/_decision.html")
def bath_decision(record: BathRecord) -> dict[str, Any]:
    """Show what was decided about a record, or that it waits for somebody."""
    return {"said": said_of(record)}
