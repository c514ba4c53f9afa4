"""How a question is written out and what may be answered."""

import pytest

from cases.domain.question_form import (
    ALWAYS_OFFERED,
    answer_to,
    answers_to,
    free_question,
    write_out,
)
from cases.domain.questions import BY_NUMBER


def test_answer_to_refuses_an_unknown_key() -> None:
    with pytest.raises(ValueError, match="Choose one of those shown"):
        answer_to(BY_NUMBER[13], "perhaps")


def test_write_out_fills_in_the_subject() -> None:
    assert write_out(BY_NUMBER[13]).startswith("Do you want a cast kept")
    assert write_out(BY_NUMBER[10], tooth=33) == "A clasp on 33 would show."
    assert (
        write_out(BY_NUMBER[17], tooth=44, room=0.8)
        == "Is a wire over the bite at 44 possible? There is 0.8 mm."
    )


@pytest.mark.parametrize("subject", [{}, {"tooth": ""}, {"tooth": " "}])
def test_write_out_refuses_a_missing_subject(subject: dict[str, object]) -> None:
    with pytest.raises(ValueError, match="about first: tooth"):
        write_out(BY_NUMBER[8], **subject)


def test_write_out_refuses_a_subject_without_a_place() -> None:
    with pytest.raises(ValueError, match="no place for: tooth"):
        write_out(BY_NUMBER[13], tooth=33)


def test_free_question_keeps_the_words_and_offers_words_or_telephone() -> None:
    own = free_question(" Is {this} yours? ", stops=("teeth",))

    assert write_out(own) == "Is {this} yours?"
    assert answers_to(own) == ALWAYS_OFFERED
    assert own.stops == ("teeth",)


def test_free_question_refuses_silence() -> None:
    with pytest.raises(ValueError, match="Write the question"):
        free_question("  ")
