"""The insertion report: how the piece seated, in five fields, as the dentist tells it.

"Not reported" is never counted as good. The report says what was seen and done at the chair;
it judges nobody, and the program draws no diagnosis from it.

Fields and answers: common practice, no published source.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from cases.domain.reasons import ADJUSTMENT, Reason
from cases.domain.words import N_
from cases.domain.words import gettext as _

NOT_REPORTED = "not-reported"
GOOD = "good"


@dataclass(frozen=True)
class ReportField:
    """One field of the report; ``answers`` is empty for the number of minutes."""

    key: str
    words: str
    answers: tuple[Reason, ...]


_NOT_REPORTED = Reason(NOT_REPORTED, N_("Not reported"))

FIELDS: tuple[ReportField, ...] = (
    ReportField(
        "retention",
        N_("Hold"),
        (
            Reason(GOOD, N_("Good")),
            Reason("loose", N_("Too loose")),
            Reason("tight", N_("Too tight")),
            _NOT_REPORTED,
        ),
    ),
    ReportField(
        "support",
        N_("Seating and support"),
        (
            Reason(GOOD, N_("Went down and does not rock")),
            Reason("eased", N_("Went down after easing")),
            Reason("rocks", N_("Rocks")),
            Reason("does-not-seat", N_("Does not seat")),
            _NOT_REPORTED,
        ),
    ),
    ReportField(
        "occlusion",
        N_("Bite"),
        (
            Reason(GOOD, N_("Good")),
            Reason("ground-in", N_("Ground in at the chair")),
            Reason("high", N_("Still high")),
            Reason("open", N_("Out of contact")),
            _NOT_REPORTED,
        ),
    ),
    ReportField(
        "sore_spots",
        N_("Sore spots"),
        (
            Reason(GOOD, N_("None")),
            Reason("eased", N_("Some, eased")),
            Reason("remain", N_("Some remain")),
            _NOT_REPORTED,
        ),
    ),
    ReportField("chairside_minutes", N_("Minutes spent adjusting at the chair"), ()),
)

MOST_MINUTES = 600  # minutes; a longer entry is taken for a slip of the finger. Judgement.


@dataclass(frozen=True)
class InsertionReport:
    """One report. ``chairside_minutes`` is None when not reported; 0 means none was needed.

    ``adjusted`` holds keys of the adjustment list: what was adjusted at the chair.
    """

    retention: str = NOT_REPORTED
    support: str = NOT_REPORTED
    occlusion: str = NOT_REPORTED
    sore_spots: str = NOT_REPORTED
    chairside_minutes: int | None = None
    adjusted: tuple[str, ...] = ()


def insertion_report(
    *,
    retention: str = NOT_REPORTED,
    support: str = NOT_REPORTED,
    occlusion: str = NOT_REPORTED,
    sore_spots: str = NOT_REPORTED,
    chairside_minutes: int | None = None,
    adjusted: Sequence[str] = (),
) -> InsertionReport:
    """Check the entries of a report and return it, repeated adjustments dropped.

    Raises
    ------
    ValueError
        An answer that is not offered, minutes out of range, or an unknown adjustment.
    """
    given = {
        "retention": retention,
        "support": support,
        "occlusion": occlusion,
        "sore_spots": sore_spots,
    }
    for field in FIELDS:
        offered = {answer.key for answer in field.answers}
        if offered and given[field.key] not in offered:
            raise ValueError(
                _("%(field)s: choose one of the answers shown.") % {"field": _(field.words)}
            )
    if chairside_minutes is not None and not 0 <= chairside_minutes <= MOST_MINUTES:
        raise ValueError(
            _(
                "Minutes at the chair must lie between 0 and %(most)d. "
                "Leave the field empty when nobody counted them."
            )
            % {"most": MOST_MINUTES}
        )
    keys = tuple(ADJUSTMENT.get(key).key for key in dict.fromkeys(adjusted))
    return InsertionReport(
        retention, support, occlusion, sore_spots, chairside_minutes, adjusted=keys
    )
