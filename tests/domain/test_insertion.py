"""Insertion reports: five fields, and not reported is not good."""

from typing import Any

import pytest

from cases.domain.insertion import (
    FIELDS,
    NOT_REPORTED,
    InsertionReport,
    insertion_report,
)

ALL_GOOD: dict[str, Any] = {
    "retention": "good",
    "support": "good",
    "occlusion": "good",
    "sore_spots": "good",
    "chairside_minutes": 0,
}


def test_report_has_five_fields_and_each_list_can_stay_unreported() -> None:
    assert [field.key for field in FIELDS] == [
        "retention",
        "support",
        "occlusion",
        "sore_spots",
        "chairside_minutes",
    ]
    for field in FIELDS[:4]:
        assert field.answers[-1].key == NOT_REPORTED


def test_insertion_report_keeps_what_was_told() -> None:
    report = insertion_report(
        retention="tight", chairside_minutes=12, adjusted=["clasp-tight", "rocks", "clasp-tight"]
    )

    assert report == InsertionReport(
        retention="tight", chairside_minutes=12, adjusted=("clasp-tight", "rocks")
    )


@pytest.mark.parametrize(
    ("entries", "sentence"),
    [
        ({"retention": "superb"}, "Hold: choose one"),
        ({"occlusion": ""}, "Bite: choose one"),
        ({"chairside_minutes": -1}, "between 0 and 600"),
        ({"chairside_minutes": 601}, "between 0 and 600"),
        ({"adjusted": ["polish"]}, "not a reason in the list “Adjustment”"),
    ],
)
def test_insertion_report_refuses_impossible_entries(
    entries: dict[str, Any], sentence: str
) -> None:
    with pytest.raises(ValueError, match=sentence):
        insertion_report(**entries)
