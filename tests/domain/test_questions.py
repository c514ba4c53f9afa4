"""Questions to the practice: complete, answerable and written out in whole words."""

import pytest

from cases.domain.questions import (
    BY_KEY,
    BY_NUMBER,
    QUESTIONS,
    answer_to,
    answers_to,
    question,
    write_out,
)


def test_questions_are_numbered_one_to_twenty_five() -> None:
    assert [asked.number for asked in QUESTIONS] == list(range(1, 26))
    assert len(BY_NUMBER) == len(BY_KEY) == 25


def test_question_answers_have_distinct_keys_and_words() -> None:
    for asked in QUESTIONS:
        answers = answers_to(asked)
        assert len({answer.key for answer in answers}) == len(answers), asked.key
        assert len({answer.words for answer in answers}) == len(answers), asked.key
        assert len(asked.answers) >= 2, asked.key


def test_questions_that_reception_may_answer_are_dates_and_shades() -> None:
    assert {q.number for q in QUESTIONS if q.reception} == {1, 2, 3, 21, 22, 24}


@pytest.mark.parametrize(
    ("number", "stops"),
    [
        (1, ("pour", "pick-up")),
        (2, ()),
        (6, ("mount",)),
        (7, ("cast-prep",)),
        (14, ("wax",)),
        (15, ("finish",)),
        (20, ("clasps", "pack", "self-cure")),
        (21, ("try-in", "wax")),
        (24, ()),
    ],
)
def test_question_stops_only_the_stages_it_names(number: int, stops: tuple[str, ...]) -> None:
    assert BY_NUMBER[number].stops == stops


def test_change_of_order_stops_the_stage_it_was_asked_at() -> None:
    assert [q.number for q in QUESTIONS if q.stops_stage_asked_at] == [25]


@pytest.mark.parametrize(
    ("number", "answer", "needs"),
    [
        (1, "alginate", ("time",)),
        (2, "yes", ("agent", "minutes")),
        (5, "new-impression", ("date",)),
        (7, "these", ("arch",)),
        (10, "move", ("teeth",)),
        (22, "new-day", ("date",)),
        (13, "yes", ()),
        (9, "other", ("text",)),
        (9, "ring-me", ()),
    ],
)
def test_answer_says_what_must_be_entered_with_it(
    number: int, answer: str, needs: tuple[str, ...]
) -> None:
    assert answer_to(BY_NUMBER[number], answer).needs == needs


def test_an_ellipsis_in_an_answer_always_needs_an_entry() -> None:
    for asked in QUESTIONS:
        for answer in asked.answers:
            assert not ("…" in answer.words and not answer.needs), answer


def test_write_out_fills_in_every_question() -> None:
    for asked in QUESTIONS:
        written = write_out(asked, **dict.fromkeys(asked.placeholders, "35"))
        assert "{" not in written


def test_question_finds_by_number_or_says_there_is_none() -> None:
    assert question(14).key == "borders"
    with pytest.raises(LookupError, match="no question number 26"):
        question(26)
