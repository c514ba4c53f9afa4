"""Teeth inside sentences: whose numbers they are is said where they are kept, never guessed."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from cases.domain.teeth import SYSTEMS, from_fdi, is_tooth
from cases.domain.toothwords import for_reader, labels, named, named_row

EVERY_TOOTH = [fdi for fdi in range(100) if is_tooth(fdi)]


def test_a_kept_sentence_names_whose_numbers_it_holds() -> None:
    assert named(44) == "44 (FDI)"
    assert named_row([44, 31]) == "44, 31 (FDI)"


@pytest.mark.parametrize(
    ("kept", "system", "read"),
    [
        ("There is no room for 44 (FDI).", "fdi", "There is no room for 44."),
        ("There is no room for 44 (FDI).", "universal", "There is no room for 28."),
        ("Fewer teeth: 47, 46 (FDI); on 11 (FDI).", "palmer", "Fewer teeth: LR7, LR6; on UR1."),
        # What nobody marked, and what is no tooth, is left as it stands.
        (
            "There are 44 of 11 mm, and 59 (FDI).",
            "universal",
            "There are 44 of 11 mm, and 59 (FDI).",
        ),
        ("144 (FDI) of 19 (FDI)", "universal", "144 (FDI) of 19 (FDI)"),
    ],
)
def test_a_reader_sees_the_own_numbering(kept: str, system: str, read: str) -> None:
    assert for_reader(kept, system) == read


@given(st.lists(st.sampled_from(EVERY_TOOTH), min_size=1), st.sampled_from(SYSTEMS))
def test_every_tooth_is_read_as_it_is_labelled(row: list[int], system: str) -> None:
    said = for_reader(f"At {named_row(row)}.", system)

    assert said == f"At {', '.join(from_fdi(tooth, system) for tooth in row)}."


def test_a_number_that_is_no_tooth_is_written_as_it_is() -> None:
    write = labels("universal")

    assert (write(36), write(99)) == ("19", "99")
