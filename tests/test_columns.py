"""Every column of every model says where its truth is."""

from __future__ import annotations

from django.apps import apps

from cases.models.columns import COLUMNS

NATURAL_KEYS = {"Heartbeat", "Counter", "Submission"}
"""Models whose primary key is a column that somebody chose, listed with the others."""


def test_every_column_is_listed_exactly_once() -> None:
    for model in apps.get_app_config("cases").get_models():
        name = model.__name__
        expected = sorted(
            field.name
            for field in model._meta.concrete_fields
            if not field.primary_key or (name in NATURAL_KEYS)
        )
        listed = COLUMNS[name]
        found = sorted((*listed.derived, *listed.reference, *listed.private, *listed.cache))
        if name in {"Event"}:
            found = [column for column in found if column != "id"]
        assert found == expected, name


def test_no_listed_model_is_gone() -> None:
    assert set(COLUMNS) == {m.__name__ for m in apps.get_app_config("cases").get_models()}
