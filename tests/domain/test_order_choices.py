"""What the desk can choose from: distinct values, and the same ones that the route reads."""

from typing import get_args

import pytest

from cases.domain import design
from cases.domain import order_choices as choices

ALL_LISTS = {
    name: value
    for name, value in vars(choices).items()
    if name.isupper() and isinstance(value, tuple)
}


def test_every_list_has_distinct_values_and_words() -> None:
    assert len(ALL_LISTS) >= 13
    for name, offered in ALL_LISTS.items():
        assert len({value for value, _ in offered}) == len(offered), name
        assert len({said for _, said in offered}) == len(offered), name


@pytest.mark.parametrize(
    ("offered", "read_by_the_route"),
    [
        (choices.KINDS, design.RouteKind),
        (choices.BORDERS, design.Borders),
        (choices.POLISH, design.Polish),
        (choices.BITE, design.Bite),
    ],
)
def test_lists_are_the_ones_the_route_reads(
    offered: choices.Choices, read_by_the_route: object
) -> None:
    assert choices.values(offered) == set(get_args(read_by_the_route))


def test_remake_starts_are_the_ones_the_route_reads() -> None:
    assert choices.values(choices.REMAKE_STARTS) | {""} == set(get_args(design.RemakeStart))


def test_item_stages_cover_every_item() -> None:
    assert set(choices.ITEM_STAGES) == choices.values(choices.ITEMS)
    assert choices.ITEM_STAGES["bite"] == ("mount",)


def test_words_says_a_value_or_lists_what_there_is() -> None:
    assert choices.words(choices.BITE, "rim") == "Rim needed"
    with pytest.raises(ValueError, match="“guess” is not one of: Found by hand"):
        choices.words(choices.BITE, "guess")
