"""The block-out advice: the vectors of the bench, its order, and what is refused."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from cases.domain.blockout import ASK_FOR_A_COPY, DECIDING, BlockOutLimits, advise
from cases.domain.design_parts import SIDES, STEPS_MM

GAP_15 = (((16, "mesial"), (14, "distal")),)


@pytest.mark.parametrize(
    ("undercuts", "told", "method", "rules"),
    [
        pytest.param(
            {(35, "mesial"): 0.5, (35, "distal"): 0.25}, {"freestanding": {35}},
            "copy", ("BLK-4", "BLK-0", "BLK-7"), id="a",
        ),
        pytest.param({(44, "distal"): 0.25}, {}, "plaster", ("BLK-2", "BLK-0"), id="b"),
        pytest.param({(44, "distal"): 0.75}, {}, "copy", ("BLK-3", "BLK-0", "BLK-7"), id="c"),
        pytest.param(
            {(44, "distal"): 0.25, (34, "distal"): 0.25, (37, "mesial"): 0.25}, {},
            "copy", ("BLK-3", "BLK-0", "BLK-7"), id="d",
        ),
        pytest.param(
            {(16, "mesial"): 0.5, (14, "distal"): 0.25}, {"facing_walls": GAP_15},
            "copy", ("BLK-5", "BLK-0", "BLK-7"), id="e",
        ),
        pytest.param(
            {(44, "distal"): 0.0, (34, "distal"): 0.0}, {}, "none", ("BLK-1", "BLK-0"), id="f"
        ),
        pytest.param(
            {(tooth, "lingual"): 0.5 for tooth in (44, 45, 34, 35)}, {},
            "plaster", ("BLK-2", "BLK-0", "BLK-11"), id="f-prime",
        ),
        pytest.param(
            {(44, "distal"): 0.25}, {"keep_master": True},
            "copy", ("BLK-6", "BLK-0", "BLK-7"), id="g",
        ),
    ],
)  # fmt: skip
def test_vectors_of_the_bench(undercuts, told, method, rules) -> None:
    advice = advise(undercuts, **told)

    assert (advice.method, advice.rules) == (method, rules)


@pytest.mark.parametrize(
    ("undercuts", "told", "rules"),
    [
        # Each of these lies just below what asks for a copy.
        ({(44, "distal"): 0.5}, {}, ("BLK-2", "BLK-0")),
        ({(44, "distal"): 0.25, (34, "distal"): 0.25}, {}, ("BLK-2", "BLK-0")),
        ({(14, "lingual"): 0.75}, {}, ("BLK-2", "BLK-0")),
        ({(14, "lingual"): 1.0}, {}, ("BLK-3", "BLK-0", "BLK-7")),
        ({(35, "mesial"): 0.5}, {"freestanding": {35}}, ("BLK-2", "BLK-0")),
        ({(16, "mesial"): 0.25, (14, "distal"): 0.25}, {"facing_walls": GAP_15},
         ("BLK-2", "BLK-0")),
        ({(16, "mesial"): 0.5}, {"facing_walls": GAP_15}, ("BLK-2", "BLK-0")),
        ({}, {}, ("BLK-1", "BLK-0")),
        ({(44, "distal"): 0.0}, {"keep_master": True}, ("BLK-6", "BLK-1", "BLK-0", "BLK-7")),
    ],
)  # fmt: skip
def test_just_below_and_just_above(undercuts, told, rules) -> None:
    assert advise(undercuts, **told).rules == rules


def test_all_that_speak_are_shown_in_the_order_in_which_they_decide() -> None:
    undercuts = {(45, "mesial"): 0.75, (45, "distal"): 0.5, (47, "mesial"): 0.5}

    advice = advise(
        undercuts, freestanding={45}, facing_walls=[((47, "mesial"), (45, "distal"))],
        keep_master=True,
    )  # fmt: skip

    assert advice.rules == ("BLK-6", "BLK-4", "BLK-3", "BLK-5", "BLK-0", "BLK-7")


def test_a_lab_may_ask_for_a_copy_earlier() -> None:
    strict = BlockOutLimits(proximal_over_mm=0.0)

    assert advise({(44, "distal"): 0.25}, limits=strict).method == "copy"


@pytest.mark.parametrize(
    ("undercuts", "walls"),
    [
        ({(49, "distal"): 0.25}, ()),
        ({(44, "palatal"): 0.25}, ()),
        ({(44, "distal"): 0.3}, ()),
        ({}, [((44, "distal"), (40, "mesial"))]),
    ],
)
def test_what_no_gauge_shows_is_refused(undercuts, walls) -> None:
    with pytest.raises(ValueError, match=r"no face|no step"):
        advise(undercuts, facing_walls=walls)


FACES = st.tuples(st.sampled_from([34, 35, 36, 44, 45]), st.sampled_from(SIDES))


@given(
    undercuts=st.dictionaries(FACES, st.sampled_from(STEPS_MM)),
    freestanding=st.frozensets(st.sampled_from([35, 45])),
    keep=st.booleans(),
)
def test_the_method_is_the_first_deciding_rule_s(undercuts, freestanding, keep) -> None:
    advice = advise(undercuts, freestanding=freestanding, keep_master=keep)

    first = next(rule for rule in advice.rules if rule in DECIDING)
    expected = "copy" if first in ASK_FOR_A_COPY else {"BLK-2": "plaster", "BLK-1": "none"}[first]
    assert advice.method == expected
    assert "BLK-0" in advice.rules


@given(
    undercuts=st.dictionaries(FACES, st.sampled_from(STEPS_MM), min_size=1),
    deeper=st.data(),
)
def test_a_deeper_undercut_never_asks_for_less(undercuts, deeper) -> None:
    face = deeper.draw(st.sampled_from(sorted(undercuts)))
    step = deeper.draw(st.sampled_from([s for s in STEPS_MM if s >= undercuts[face]]))
    rank = ["none", "plaster", "copy"]

    before, after = advise(undercuts), advise({**undercuts, face: step})

    assert rank.index(after.method) >= rank.index(before.method)
