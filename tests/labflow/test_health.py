"""The health commands tell a working part from one that merely lives."""

from __future__ import annotations

import socket
from datetime import timedelta
from io import StringIO

import pytest
from django.core.management import CommandError, call_command
from django.utils import timezone

from cases.models import Heartbeat


@pytest.mark.django_db
def test_health_refuses_a_lab_that_never_swept() -> None:
    with pytest.raises(CommandError, match="No sweep has run yet"):
        call_command("health", "sweep")


@pytest.mark.django_db
def test_health_refuses_an_old_sweep() -> None:
    Heartbeat.objects.create(name="sweep", at=timezone.now() - timedelta(seconds=90))

    with pytest.raises(CommandError, match=r"The last sweep ran 9\d s ago"):
        call_command("health", "sweep")


@pytest.mark.django_db
def test_health_accepts_the_sweep_that_just_ran() -> None:
    call_command("sweep", stdout=StringIO())
    said = StringIO()

    call_command("health", "sweep", stdout=said)

    assert said.getvalue().startswith("The last sweep ran 0 s ago")


def test_health_refuses_a_silent_web_part() -> None:
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        port = probe.getsockname()[1]

    with pytest.raises(CommandError, match="does not answer"):
        call_command("health", "web", "--port", str(port))
