"""Every kind of route is made of the same network: which stages each kind has, in order."""

from __future__ import annotations

import pytest

from cases.domain.design import Clasp, Design, WorkOrder
from cases.domain.route import default_template, grow

PLAIN = Design(
    arch="lower",
    missing=frozenset({36}),
    replaced=frozenset({36}),
    clasps=(Clasp(35), Clasp(37)),
    blocked=frozenset({(35, "distal")}),
    method="plaster",
)

SPINE_END = (
    "wax", "wax-pass", "flask-lower", "flask-upper", "boil-out", "separate", "pack", "clamp",
    "cure", "cool", "deflask", "bite", "take-off", "finish", "polish", "inspect", "soak",
    "pack-out", "send",
)  # fmt: skip


@pytest.mark.parametrize(
    ("order", "design", "keys"),
    [
        pytest.param(
            WorkOrder(kind="adjustment", impressions_came=False, opposing=False),
            Design(arch="lower"),
            ("receive", "disinfect", "look", "finish", "polish", "inspect", "pack-out", "send"),
            id="adjustment",
        ),
        pytest.param(
            WorkOrder(kind="repair", casts=1, opposing=False),
            Design(arch="lower", clasps=(Clasp(35),)),
            ("receive", "disinfect", "pick-up", "trim", "clasps", "key", "self-cure", "finish",
             "polish", "inspect", "pack-out", "send"),
            id="broken clasp",
        ),
        pytest.param(
            WorkOrder(kind="addition", casts=1, opposing=False, polish="none"),
            Design(arch="lower", missing=frozenset({35}), replaced=frozenset({35})),
            ("receive", "disinfect", "pick-up", "trim", "teeth", "key", "self-cure", "finish",
             "inspect", "pack-out", "send"),
            id="added tooth",
        ),
        pytest.param(
            WorkOrder(kind="repair", impressions_came=False, disinfection_proven=True),
            Design(arch="lower"),
            ("receive", "key", "self-cure", "finish", "polish", "inspect", "pack-out", "send"),
            id="crack without a cast",
        ),
        pytest.param(
            WorkOrder(kind="remake", remake_start="new-impression", disinfection_proven=True),
            PLAIN,
            ("receive", "pour", "trim", "survey", "block-out", "mount", "clasps", "teeth",
             *SPINE_END),
            id="remake from a new impression",
        ),
        pytest.param(
            WorkOrder(
                kind="remake", remake_start="kept-master", impressions_came=False,
                disinfection_proven=True,
            ),
            PLAIN,
            ("receive", "survey", "block-out", "mount", "clasps", "teeth", *SPINE_END),
            id="remake from the kept master",
        ),
        pytest.param(
            WorkOrder(
                kind="remake", remake_start="kept-wax-index", impressions_came=False, bite="rim",
            ),
            PLAIN,
            ("receive", "disinfect", "survey", "block-out", "mount", "clasps", "index",
             *SPINE_END),
            id="remake from the kept wax index",
        ),
        pytest.param(
            WorkOrder(scan=True, impressions_came=False),
            PLAIN,
            ("receive", "print-model", "stone-copy", "trim", "survey", "block-out", "mount",
             "clasps", "teeth", *SPINE_END),
            id="scan",
        ),
        pytest.param(
            WorkOrder(impressions_came=False, opposing=False, disinfection_proven=True),
            PLAIN,
            ("receive", "trim", "survey", "block-out", "clasps", "teeth",
             *(key for key in SPINE_END if key != "bite")),
            id="stone casts, no opposing",
        ),
    ],
)  # fmt: skip
def test_route_has_the_stages_of_its_kind(
    order: WorkOrder, design: Design, keys: tuple[str, ...]
) -> None:
    assert grow(default_template(), order, design).keys == keys
