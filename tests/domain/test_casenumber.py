"""Case numbers: what they look like, what is refused, which errors are found."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from cases.domain.casenumber import (
    ALPHABET,
    CaseNumber,
    NotACaseNumber,
    WrongCheckCharacter,
    check_character,
    make,
    parse,
)

numbers = st.builds(make, st.integers(0, 99), st.integers(1, 999_999))


def test_check_character_equals_the_published_example() -> None:
    # Global Release Identifier A1-2425G-ABC1234002-M, see the module's source note.
    assert check_character("A12425GABC1234002") == "M"


@pytest.mark.parametrize("body", ["", "26-0417", "26o417", "\u0662\u0666"])
def test_check_character_refuses_other_characters(body: str) -> None:
    with pytest.raises(ValueError, match="figures 0-9"):
        check_character(body)


def test_make_writes_year_serial_and_check_character() -> None:
    assert str(make(2026, 417)) == "26-0417-Z"
    assert str(make(26, 417)) == "26-0417-Z"


def test_make_keeps_counting_past_four_digits() -> None:
    number = make(2026, 10417)

    assert str(number).startswith("26-10417-")
    assert parse(str(number)) == number


@pytest.mark.parametrize(("year", "serial"), [(-1, 1), (10_000, 1), (26, 0), (26, -3)])
def test_make_refuses_impossible_years_and_serials(year: int, serial: int) -> None:
    with pytest.raises(ValueError, match="is not a"):
        make(year, serial)


@pytest.mark.parametrize(
    "text",
    ["26-0417-Z", "26-0417-z", " 26 0417 z ", "260417Z", "26-0417Z", "26\u20110417\u2013z"],
)
def test_parse_takes_any_case_spaces_and_hyphens(text: str) -> None:
    assert parse(text) == CaseNumber(26, 417)


@pytest.mark.parametrize(
    "text",
    [
        "",
        "   ",
        "26",
        "26-417-Z",
        "AB-0417-Z",
        "26-0417-",
        "26-0417-ZZ",
        "26_0417_Z",
        "\u0662\u06660417Z",
        "26-00417-Z",
        "26-0000-A",
        "26-0417-Z;drop",
    ],
)
def test_parse_refuses_other_shapes_with_the_next_step(text: str) -> None:
    with pytest.raises(NotACaseNumber, match="ticket"):
        parse(text)


def test_parse_names_what_was_typed_when_the_check_character_is_wrong() -> None:
    with pytest.raises(WrongCheckCharacter, match="“26-0418-Z” has a mistake in it") as refusal:
        parse("26-0418-Z")

    assert "Type it again from the ticket" in str(refusal.value)
    # The right character is not given away: the error may be anywhere in the number.
    assert str(make(26, 418)) not in str(refusal.value)


@given(numbers)
def test_parse_reads_back_every_number_made(number: CaseNumber) -> None:
    assert parse(str(number)) == number
    assert parse(str(number).replace("-", "").lower()) == number


@given(numbers, st.data())
def test_every_single_wrong_character_is_refused(number: CaseNumber, data: st.DataObject) -> None:
    right = str(number).replace("-", "")
    place = data.draw(st.integers(0, len(right) - 1))
    wrong_one = data.draw(st.sampled_from([c for c in ALPHABET if c != right[place]]))

    with pytest.raises((NotACaseNumber, WrongCheckCharacter)):
        parse(right[:place] + wrong_one + right[place + 1 :])


def test_nearly_every_swap_of_neighbours_is_refused() -> None:
    """MOD 37,36 finds more than 99 in 100 swaps; every number of one year is tried."""
    tried = passed = 0
    for serial in range(1, 10_000):
        right = str(make(26, serial)).replace("-", "")
        for place in range(len(right) - 1):
            if right[place] == right[place + 1]:
                continue
            swapped = right[:place] + right[place + 1] + right[place] + right[place + 2 :]
            tried += 1
            try:
                parse(swapped)
            except ValueError:
                continue
            passed += 1

    assert tried > 50_000
    assert passed / tried < 0.01
