"""``manage.py plan``."""

from __future__ import annotations

from datetime import timedelta
from io import StringIO

import pytest
import time_machine
from django.core.management import CommandError, call_command

from cases.models import Plan
from tests.factories import NOW, make_case, make_shop

pytestmark = pytest.mark.django_db


def test_the_lab_is_planned_and_said() -> None:
    shop = make_shop(NOW - timedelta(days=2))
    make_case(shop)
    said = StringIO()
    with time_machine.travel(NOW, tick=False):
        call_command("plan", stdout=said)
    assert Plan.objects.count() == 1
    assert "1 cases leave" in said.getvalue()


def test_a_lab_that_is_not_set_up_has_nothing_to_plan() -> None:
    with pytest.raises(CommandError, match="not set up"):
        call_command("plan")
