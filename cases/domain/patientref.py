"""Patient references: a code of the practice, never a name.

The program holds no patient's name. A reference without a single figure in it is most likely
a name or initials, so it is refused.
"""

from __future__ import annotations

import re

from cases.domain.words import N_
from cases.domain.words import gettext as _

SHORTEST = 2  # characters; the laboratory's rule, no published source
LONGEST = 16  # characters; the laboratory's rule, no published source

RULE = N_(
    "A patient reference is 2 to 16 of the characters A-Z, 0-9, hyphen, slash and full stop, "
    "with at least one figure. Use the practice's code, not a name."
)

_SHAPE = re.compile(rf"(?=.*[0-9])[A-Z0-9\-/.]{{{SHORTEST},{LONGEST}}}")


class NotAPatientReference(ValueError):
    """The text is not a patient reference; the message is the rule."""


def is_patient_reference(text: str) -> bool:
    """Say whether the text is a patient reference exactly as it stands."""
    return _SHAPE.fullmatch(text) is not None


def patient_reference(text: str) -> str:
    """Return the text unchanged when it is a patient reference.

    Nothing is tidied here: a form that wants to take small letters turns them into capitals
    before the person sees the page again.

    Raises
    ------
    NotAPatientReference
        Anything else; the message is the rule in one sentence and what to use instead.
    """
    if not is_patient_reference(text):
        raise NotAPatientReference(_(RULE))
    return text
