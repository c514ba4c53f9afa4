"""What a question to a practice is made of, and how it is written out.

The list of questions is in ``questions.py``.
"""

from __future__ import annotations

import string
from dataclasses import dataclass
from typing import Literal

from cases.domain.words import N_
from cases.domain.words import gettext as _

Need = Literal[
    "date", "text", "time", "teeth", "minutes", "arch", "shade", "mould", "agent"
]  # fmt: skip


@dataclass(frozen=True)
class Answer:
    """One answer to choose. ``needs`` is what must be entered with it.

    ``date`` a day, ``time`` an instant, ``text`` words, ``teeth`` one or more teeth,
    ``minutes`` a number of minutes, ``arch`` each tooth with its depth, ticked on the arch,
    ``shade`` a shade and its guide, ``mould`` the name of a mould, ``agent`` what it was
    disinfected with.
    """

    key: str
    words: str
    needs: tuple[Need, ...] = ()
    still_waits: str = ""
    """A key of the hold list: the answer says what is to come, and the work waits for that."""


OTHER = Answer("other", N_("Other (write)"), ("text",))
RING_ME = Answer("ring-me", N_("Please ring me"))
ALWAYS_OFFERED: tuple[Answer, ...] = (OTHER, RING_ME)


@dataclass(frozen=True)
class Question:
    """A question as data.

    Attributes
    ----------
    number : int
        Its number in the laboratory's list; 0 for a question written freely.
    key : str
        Stable name for records.
    words : str
        What the practice reads, with ``{placeholders}``.
    answers : tuple[Answer, ...]
        Without the two that are always offered; see `answers_to`.
    stops : tuple[str, ...]
        Keys of the stages that may not start before the answer.
    reception : bool
        True when the practice's reception may answer; otherwise the dentist must.
    stops_stage_asked_at : bool
        True when it stops the stage at which it was asked, whichever that is.
    """

    number: int
    key: str
    words: str
    answers: tuple[Answer, ...]
    stops: tuple[str, ...] = ()
    reception: bool = False
    stops_stage_asked_at: bool = False

    @property
    def placeholders(self) -> tuple[str, ...]:
        """The names that `write_out` needs, in the order of the words."""
        return tuple(name for _, name, _, _ in string.Formatter().parse(self.words) if name)


def free_question(words: str, *, stops: tuple[str, ...] = ()) -> Question:
    """Make a question of the technician's own words, answered in words or by telephone.

    Raises
    ------
    ValueError
        When no words are given.
    """
    if not words.strip():
        raise ValueError(_("Write the question that the practice should answer."))
    # Braces in somebody's own words are not placeholders.
    plain = words.strip().replace("{", "{{").replace("}", "}}")
    return Question(0, "own-words", plain, (), stops=stops)


def answers_to(asked: Question) -> tuple[Answer, ...]:
    """Return every answer that may be chosen, "Other" and "Please ring me" last."""
    return asked.answers + ALWAYS_OFFERED


def answer_to(asked: Question, key: str) -> Answer:
    """Return the answer with this key.

    Raises
    ------
    ValueError
        When the question has no such answer.
    """
    for answer in answers_to(asked):
        if answer.key == key:
            return answer
    raise ValueError(
        _("“%(key)s” is not an answer to this question. Choose one of those shown.") % {"key": key}
    )


def write_out(asked: Question, **subject: object) -> str:
    """Return the words of a question with its subject filled in.

    Parameters
    ----------
    asked : Question
    **subject
        One value for each of ``asked.placeholders``, for example ``tooth=33``.

    Raises
    ------
    ValueError
        When a value is missing, or one is given that the words have no place for.
    """
    wanted = set(asked.placeholders)
    missing = sorted(name for name in wanted if not str(subject.get(name, "")).strip())
    if missing:
        raise ValueError(
            _("Say what the question is about first: %(missing)s.")
            % {"missing": ", ".join(missing)}
        )
    unknown = sorted(set(subject) - wanted)
    if unknown:
        raise ValueError(
            _("The question has no place for: %(unknown)s.") % {"unknown": ", ".join(unknown)}
        )
    return _(asked.words).format(**subject)
