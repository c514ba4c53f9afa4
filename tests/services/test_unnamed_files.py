"""Pictures of forms that were left unsent are not kept; what a case names is."""

from __future__ import annotations

import os
from datetime import timedelta
from pathlib import Path

import pytest
from django.conf import LazySettings

from cases.models import File
from cases.services.files import attach_file, drop_unnamed, path_of, write_bytes
from cases.tasks import tidy
from tests.factories import NOW, make_case, make_shop

pytestmark = pytest.mark.django_db


def _aged(path: Path, days: float) -> None:
    then = (NOW - timedelta(days=days)).timestamp()
    os.utime(path, (then, then))


def test_only_old_bytes_that_no_row_names_go(settings: LazySettings, tmp_path: Path) -> None:
    settings.MEDIA_ROOT = tmp_path
    shop = make_shop()
    case = make_case(shop)
    left, young, kept = (
        write_bytes(said, ".jpg", "image/jpeg") for said in (b"left", b"young", b"kept")
    )
    attach_file(shop.envelope("noor"), case=case.pk, kind="prescription", stored=vars(kept))
    for stored, days in ((left, 2), (young, 0.5), (kept, 400)):
        _aged(tmp_path / stored.path, days)

    assert drop_unnamed(NOW) == 1

    assert not (tmp_path / left.path).exists()
    assert (tmp_path / young.path).exists()
    assert path_of(File.objects.get(sha256=kept.sha256)).exists()


def test_bytes_taken_in_anew_are_young_again(settings: LazySettings, tmp_path: Path) -> None:
    settings.MEDIA_ROOT = tmp_path
    make_shop()
    stored = write_bytes(b"again", ".jpg", "image/jpeg")
    _aged(tmp_path / stored.path, 2)
    write_bytes(b"again", ".jpg", "image/jpeg")

    assert tidy()["dropped"] == 0
    assert (tmp_path / stored.path).exists()
