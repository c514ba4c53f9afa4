"""The default checks in the order of their numbers."""

from __future__ import annotations

from cases.domain.check_data_cast import CAST_CHECKS, IMMEDIATE_CHECKS
from cases.domain.check_data_end import BASES, END_CHECKS
from cases.domain.check_data_piece import PIECE_CHECKS
from cases.domain.check_spec import CheckSpec

CHECKS: tuple[CheckSpec, ...] = CAST_CHECKS + PIECE_CHECKS + END_CHECKS + IMMEDIATE_CHECKS + BASES
