"""Cautions: every hazard is shown somewhere, and none claims safety."""

import pytest

from cases.domain.cautions import BY_KEY, CAUTIONS, DEFER, for_stage
from cases.domain.route_data import default_template

HAZARDS = {
    "monomer",
    "press",
    "boiling-water",
    "torch",
    "plaster-dust",
    "grinding-dust",
    "infection",
    "hot-flask",
    "overnight-cure",
}


def test_cautions_cover_the_hazards_of_the_bench() -> None:
    assert set(BY_KEY) == HAZARDS
    assert len(CAUTIONS) == len(HAZARDS)


def test_every_hazard_is_shown_at_some_stage() -> None:
    shown = {caution.key for stage in default_template().stages for caution in for_stage(stage.key)}

    assert shown == HAZARDS


def test_caution_is_written_in_sentences_with_a_source() -> None:
    for caution in CAUTIONS:
        assert caution.source
        assert caution.words
        assert all(words[0].isupper() and words.endswith(".") for words in caution.words)


@pytest.mark.parametrize(
    ("stage", "hazards"),
    [
        ("pack", ["monomer", "press"]),
        ("join", ["torch"]),
        ("cure", ["boiling-water", "hot-flask", "overnight-cure"]),
        ("receive", ["infection"]),
        ("survey", []),
        ("no-such-stage", []),
    ],
)
def test_for_stage_gives_the_hazards_in_order(stage: str, hazards: list[str]) -> None:
    assert [caution.key for caution in for_stage(stage)] == hazards


def test_monomer_warns_of_fire_skin_and_vapour() -> None:
    words = " ".join(BY_KEY["monomer"].words)

    assert "No flame" in words
    assert "Keep it off the skin" in words
    assert "100 ppm" in words


def test_defer_sentence_points_to_sheet_maker_and_authority() -> None:
    assert DEFER.startswith("Reminder only")
    for word in ("safety data sheet", "maker's instructions", "local authority"):
        assert word in DEFER


def test_no_caution_says_that_something_is_safe() -> None:
    for caution in CAUTIONS:
        assert "safe" not in " ".join((caution.title, *caution.words)).lower().replace(
            "safety data sheet", ""
        )
