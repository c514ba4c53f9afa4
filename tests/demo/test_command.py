"""``manage.py demo`` fills an empty database, says how to come in, and leaves a full one alone."""

from __future__ import annotations

from io import StringIO

import pytest
from django.core.management import call_command
from django.test import Client

from cases.demo.people import PASSWORD, PIN
from cases.models import Case, Lab, Shipment, Submission
from tests.factories import make_shop

pytestmark = [pytest.mark.django_db, pytest.mark.timeout(600)]


def test_demo_leaves_a_laboratory_as_it_is() -> None:
    """A lab that was set up is not touched, and the sentence says so."""
    make_shop()
    before = Submission.objects.count()
    out = StringIO()
    call_command("demo", stdout=out)
    assert "left as it is" in out.getvalue()
    assert Submission.objects.count() == before
    assert Lab.objects.count() == 1


def test_demo_says_how_to_come_in() -> None:
    """The names, the password and the PIN are printed, and they open the door."""
    out = StringIO()
    call_command("demo", open=1, finished=1, now="2026-12-09T11:20:00+01:00", stdout=out)
    said = out.getvalue()
    assert Case.objects.exclude(state="cancelled").count() == 2
    assert PASSWORD in said
    assert PIN in said
    for username in ("corin", "nella", "halden", "ossian"):
        assert username in said
        assert Client().login(username=username, password=PASSWORD)
    sent = list(Shipment.objects.filter(sent_at__isnull=False))
    papers = [list(box.papers.values_list("kind", "number", "file__content_type")) for box in sent]
    assert sent
    assert papers == [[("note", box.number, "application/pdf")] for box in sent]
