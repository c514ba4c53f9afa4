"""Cautions: every hazard is shown somewhere, and none claims safety."""

import pytest

from cases.domain.cautions import BY_KEY, CAUTIONS, DEFER, for_stage
from cases.domain.route_data import default_template

HAZARDS = {
    "monomer",
    "powder",
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
        ("pack", ["monomer", "powder", "press"]),
        ("boil-out", ["boiling-water", "hot-flask"]),
        ("deflask", ["hot-flask", "press", "plaster-dust"]),
        ("finish", ["grinding-dust"]),
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


def test_monomer_has_its_limits_over_the_day_and_for_a_short_time() -> None:
    monomer = BY_KEY["monomer"]
    words = " ".join(monomer.words)

    assert "100 ppm over 8 hours in the United States, 50 ppm in the European Union" in words
    assert "For a quarter of an hour: 100 ppm by the ACGIH" in words
    assert "100 ppm as the European Union's indicative limit" in words
    assert "EU limits (Directive 2009/161/EU) and flash point from memory" in monomer.source


def test_monomer_says_when_its_vapour_is_a_danger_at_once_and_when_it_explodes() -> None:
    words = " ".join(BY_KEY["monomer"].words)

    assert "At 1,000 ppm the vapour is a danger to life at once" in words
    assert "from 1.7 % in the air it can explode" in words


def test_dust_and_burns_have_the_numbers_that_people_act_upon() -> None:
    assert "from 25 µg on" in " ".join(BY_KEY["plaster-dust"].words)
    assert "20 minutes" in " ".join(BY_KEY["boiling-water"].words)


def test_powder_is_an_oxidiser_with_a_limit_for_its_dust() -> None:
    powder = BY_KEY["powder"]
    words = " ".join(powder.words)

    assert "benzoyl peroxide, which feeds a fire" in words
    assert "5 mg in a cubic metre over 8 hours" in words
    assert "NIOSH and OSHA for 5 mg/m³, read" in powder.source


def test_defer_sentence_points_to_sheet_maker_and_authority() -> None:
    assert DEFER.startswith("Reminder only")
    for word in ("safety data sheet", "maker's instructions", "local authority"):
        assert word in DEFER


def test_no_caution_says_that_something_is_safe() -> None:
    for caution in CAUTIONS:
        assert "safe" not in " ".join((caution.title, *caution.words)).lower().replace(
            "safety data sheet", ""
        )
