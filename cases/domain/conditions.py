"""Conditions: when a stage, an edge or a check of the template belongs to a case.

Each is a yes/no question to the order and the design, with the words that the route editor
shows. Add one by adding one line to ``_TABLE``.
"""

from __future__ import annotations

from collections.abc import Callable

from cases.domain.design import COPY_METHODS, Design, WorkOrder
from cases.domain.words import N_

Condition = Callable[[WorkOrder, Design], bool]

NEW_PIECE_KINDS: frozenset[str] = frozenset({"new", "remake"})
MENDING_KINDS: frozenset[str] = frozenset({"repair", "addition"})
KEPT_STARTS: frozenset[str] = frozenset({"kept-master", "kept-wax-index"})


def _new_piece(order: WorkOrder, design: Design) -> bool:
    return order.kind in NEW_PIECE_KINDS


def _fresh_start(order: WorkOrder, design: Design) -> bool:
    kept = order.kind == "remake" and order.remake_start in KEPT_STARTS
    return _new_piece(order, design) and not kept


def _mending(order: WorkOrder, design: Design) -> bool:
    return order.kind in MENDING_KINDS


def _pour(order: WorkOrder, design: Design) -> bool:
    return _fresh_start(order, design) and order.impressions_came


def _pick_up(order: WorkOrder, design: Design) -> bool:
    return _mending(order, design) and order.impressions_came


def _scan(order: WorkOrder, design: Design) -> bool:
    return _fresh_start(order, design) and order.scan


def _nothing_in_the_box(order: WorkOrder, design: Design) -> bool:
    return _scan(order, design) and not order.impressions_came


def _index(order: WorkOrder, design: Design) -> bool:
    return order.kind == "remake" and order.remake_start == "kept-wax-index"


def _not_adjustment(order: WorkOrder) -> bool:
    return order.kind != "adjustment"


def _mounted(order: WorkOrder, design: Design) -> bool:
    return _new_piece(order, design) and order.opposing


def _method(method: str) -> Condition:
    """The method alone: whether there is a copy at all is the stages' question."""

    def ask(order: WorkOrder, design: Design) -> bool:
        return design.method == method

    return ask


def _method_in(method: str, material: str) -> Condition:
    def ask(order: WorkOrder, design: Design) -> bool:
        return design.method == method and design.copy_in == material

    return ask


def _not_method(method: str) -> Condition:
    def ask(order: WorkOrder, design: Design) -> bool:
        return design.method != method

    return ask


def _silicone(order: WorkOrder, design: Design) -> bool:
    return design.copy_in == "silicone"


def _immediate(order: WorkOrder, design: Design) -> bool:
    return order.kind in NEW_PIECE_KINDS | {"addition"} and bool(design.extracted)


def _wires(order: WorkOrder, design: Design) -> bool:
    return _not_adjustment(order) and bool(design.clasps or design.rests)


def _master(order: WorkOrder, design: Design) -> bool:
    return _new_piece(order, design) and design.method in COPY_METHODS


_TABLE: tuple[tuple[str, str, Condition], ...] = (
    ("always", N_("Always"), lambda order, design: True),
    ("new-piece", N_("A new piece is made (new or remade)"), _new_piece),
    ("fresh-start", N_("A new piece from impression, casts or scan"), _fresh_start),
    (
        "not-proven",
        N_("There is no written proof of disinfection"),
        lambda order, design: (
            not order.disinfection_proven and not _nothing_in_the_box(order, design)
        ),
    ),
    ("pour", N_("Impressions came (not if stone casts came)"), _pour),
    ("not-poured", N_("Nothing is poured as a new cast"), lambda o, d: not _pour(o, d)),
    ("alginate", N_("The impression is alginate, or nobody knows"), lambda o, d: o.alginate),
    ("not-alginate", N_("The impression is not alginate"), lambda o, d: not o.alginate),
    (
        "casts-to-trim",
        N_("There is a cast that was not trimmed yet"),
        lambda o, d: _fresh_start(o, d) or _pick_up(o, d),
    ),
    (
        "rim",
        N_("The bite needs a rim"),
        lambda o, d: _new_piece(o, d) and o.bite == "rim" and not _index(o, d),
    ),
    ("immediate", N_("Teeth are extracted at delivery, on a written order"), _immediate),
    (
        "agreement",
        N_("The practice must agree to the design first"),
        lambda o, d: _new_piece(o, d) and d.needs_agreement,
    ),
    ("copy", N_("The master is copied"), _master),
    ("master-kept", N_("A master cast is kept to fit on"), _master),
    ("no-master", N_("No cast survives the flask"), lambda o, d: not _master(o, d)),
    (
        "new-piece-no-master",
        N_("A new piece, and no cast survives the flask"),
        lambda o, d: _new_piece(o, d) and not _master(o, d),
    ),
    ("wax-then-copy", N_("Wax block-out, then the copy"), _method("wax-then-copy")),
    ("copy-then-plaster", N_("The copy first, then plaster on it"), _method("copy-then-plaster")),
    (
        "wax-then-copy-silicone",
        N_("Wax block-out, then a copy in silicone"),
        _method_in("wax-then-copy", "silicone"),
    ),
    (
        "wax-then-copy-gel",
        N_("Wax block-out, then a copy in gel"),
        _method_in("wax-then-copy", "gel"),
    ),
    (
        "copy-then-plaster-silicone",
        N_("A copy in silicone, then plaster on it"),
        _method_in("copy-then-plaster", "silicone"),
    ),
    (
        "copy-then-plaster-gel",
        N_("A copy in gel, then plaster on it"),
        _method_in("copy-then-plaster", "gel"),
    ),
    (
        "not-copy-then-plaster",
        N_("Any but copy first and plaster"),
        _not_method("copy-then-plaster"),
    ),
    (
        "plaster-block-out",
        N_("Plaster is the block-out on the cast that goes to the flask"),
        lambda o, d: d.method in {"plaster", "copy-then-plaster"},
    ),
    ("relief-only", N_("No block-out, relief only"), _method("none")),
    ("silicone", N_("The copy mould is silicone"), _silicone),
    ("gel", N_("The copy mould is gel"), lambda o, d: not _silicone(o, d)),
    ("mounted", N_("There is an opposing cast to mount"), _mounted),
    ("wires", N_("There are clasps or wire rests"), _wires),
    ("bar", N_("There is a bar"), lambda o, d: _new_piece(o, d) and d.bar),
    (
        "joints",
        N_("There are joints to solder or weld"),
        lambda o, d: _not_adjustment(o) and d.joints > 0,
    ),
    (
        "teeth",
        N_("There are teeth to set"),
        lambda o, d: _not_adjustment(o) and bool(d.replaced) and not _index(o, d),
    ),
    ("index", N_("A remake from the kept wax index"), _index),
    ("try-in", N_("A try-in is ordered"), lambda o, d: _new_piece(o, d) and o.try_in),
    ("polish", N_("Polish is ordered"), lambda o, d: o.polish != "none"),
    (
        "adjustment",
        N_("An adjustment of a piece that came back"),
        lambda o, d: o.kind == "adjustment",
    ),
    ("mending", N_("A repair or an added tooth"), _mending),
    ("pick-up", N_("The piece came in a pick-up impression"), _pick_up),
    ("scan", N_("A scan came instead of an impression"), _scan),
    (
        "impression-or-cast",
        N_("An impression, cast or scan came"),
        lambda o, d: _fresh_start(o, d) or _pick_up(o, d),
    ),
)

CONDITIONS: dict[str, Condition] = {name: ask for name, _words, ask in _TABLE}
CONDITION_WORDS: dict[str, str] = {name: words for name, words, _ask in _TABLE}


def holds(name: str, order: WorkOrder, design: Design) -> bool:
    """Return whether the condition ``name`` is true for this order and design.

    Raises
    ------
    ValueError
        Nobody knows the condition.
    """
    condition = CONDITIONS.get(name)
    if condition is None:
        raise ValueError(f"Nobody knows the condition “{name}”.")
    return condition(order, design)
