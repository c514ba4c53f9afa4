"""Patient references: a code with a figure in it, never a name."""

import pytest

from cases.domain.patientref import (
    RULE,
    NotAPatientReference,
    is_patient_reference,
    patient_reference,
)


@pytest.mark.parametrize("text", ["P1", "K-2041/3.B", "42", "A1" * 8, "1-", "./-7"])
def test_patient_reference_returns_a_code_unchanged(text: str) -> None:
    assert patient_reference(text) == text
    assert is_patient_reference(text)


@pytest.mark.parametrize(
    "text",
    [
        "",
        "7",
        "JONES",
        "A-B",
        "A1" * 8 + "2",
        "k12",
        "K 12",
        " K12",
        "K12\n",
        "K_12",
        "É12",
        "K\u00b2",
        "K\u0664",
    ],
)
def test_patient_reference_refuses_anything_else_with_the_rule(text: str) -> None:
    assert not is_patient_reference(text)
    with pytest.raises(NotAPatientReference) as refusal:
        patient_reference(text)
    assert str(refusal.value) == RULE
