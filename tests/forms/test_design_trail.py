"""Undo and redo of the entries, carried by the form."""

from __future__ import annotations

from hypothesis import given
from hypothesis import strategies as st

from cases.forms.design.trail import MOST_STEPS, Trail, entries_of

ENTRIES = st.dictionaries(
    st.sampled_from(["replaced", "clasps", "bar", "wire_34"]),
    st.lists(st.sampled_from(["", "34", "0.9", "yes"]), min_size=1, max_size=2),
    min_size=1,
)


def test_a_step_back_and_forth() -> None:
    trail = Trail()
    trail.note({"replaced": ["36"]})
    trail.note({"replaced": ["36, 37"], "bar": ["yes"]})
    assert trail.undo() == {"replaced": ["36"]}
    assert trail.redo() == {"replaced": ["36, 37"], "bar": ["yes"]}
    assert trail.redo() == {"replaced": ["36, 37"], "bar": ["yes"]}


def test_a_new_step_forgets_what_was_taken_back() -> None:
    trail = Trail()
    for teeth in ("36", "37", "35"):
        trail.note({"replaced": [teeth]})
    trail.undo()
    trail.note({"replaced": ["34"]})
    assert trail.forth == []
    assert trail.undo() == {"replaced": ["37"]}


@given(st.lists(ENTRIES, min_size=1, max_size=8))
def test_all_the_way_back_is_the_beginning_and_all_the_way_forth_the_end(
    steps: list[dict[str, list[str]]],
) -> None:
    trail = Trail()
    for entries in steps:
        trail.note(entries)
        trail = Trail.read(trail.write())
    while trail.back:
        trail.undo()
    assert trail.was == steps[0]
    while trail.forth:
        trail.redo()
    assert trail.was == steps[-1]


@given(st.lists(ENTRIES, min_size=1, max_size=8), st.integers(0, 8))
def test_written_another_way_every_state_is_still_a_step_away(
    steps: list[dict[str, list[str]]], undone: int
) -> None:
    def loud(entries: dict[str, list[str]]) -> dict[str, list[str]]:
        return {name: [f"{one}!" for one in values] for name, values in entries.items()}

    plain, written = Trail(), Trail()
    for entries in steps:
        plain.note(entries)
        written.note(entries)
    for _time in range(undone):
        plain.undo()
        written.undo()
    written.rewrite(loud)

    assert written.was == loud(plain.was)
    while plain.back:
        assert written.undo() == loud(plain.undo())
    while plain.forth:
        assert written.redo() == loud(plain.redo())
    assert (len(written.back), written.forth) == (len(plain.back), [])


def test_what_a_step_took_off_the_page_comes_back_with_it() -> None:
    trail = Trail()
    trail.note({"clasps": ["34"], "wire_34": ["0.9"]})
    # The tooth is taken out, and its wire is still in what was sent; the page shows it no more.
    trail.note({"clasps": [""], "wire_34": ["0.9"]})
    trail.shows({"clasps": [""]})
    assert trail.undo() == {"clasps": ["34"], "wire_34": ["0.9"]}
    trail.shows({"clasps": ["34"], "wire_34": ["0.9"], "face_34": ["buccal"]})
    assert trail.redo() == {"clasps": [""]}


def test_the_trail_is_bounded() -> None:
    trail = Trail()
    for number in range(3 * MOST_STEPS):
        trail.note({"replaced": [str(number)]})
    assert len(trail.back) == MOST_STEPS


def test_what_was_not_made_here_is_an_empty_trail() -> None:
    for text in ("", "x", "[]", "[1,2,3]", '{"a":1}', '[{"a":"b"},[],[]]', "[" * 200_000):
        assert Trail.read(text) == Trail()


def test_how_the_page_looks_is_no_entry() -> None:
    sent = {"replaced": "36", "tool": "clasps", "trail": "[]", "becomes_wax": "again"}
    assert entries_of(sent) == {"replaced": ["36"]}
