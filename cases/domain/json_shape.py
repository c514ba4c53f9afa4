"""Read stored JSON back into dataclasses, refusing what does not fit by name."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import MISSING, fields
from typing import Any, TypeVar

Item = TypeVar("Item")

# The annotations are strings (postponed evaluation); these are the plain ones in use.
_PLAIN: dict[str, tuple[type, ...]] = {
    "str": (str,),
    "bool": (bool,),
    "int": (int,),
    "float": (int, float),
    "float | None": (int, float, type(None)),
}


def build(
    cls: type[Item], data: Any, where: str, nested: Mapping[str, Callable[[Any, str], Any]]
) -> Item:
    """Return an instance of the dataclass ``cls`` filled from one JSON object.

    Parameters
    ----------
    data
        The JSON object.
    where
        Its place in the document, for the message ("stages[3]").
    nested
        How to read the fields that are no plain value: field name to a function of the
        value and its place.

    Raises
    ------
    ValueError
        A field is unknown, missing or of another type; the message names it.
    """
    if not isinstance(data, Mapping):
        raise ValueError(f"{where} should be an object with named fields.")
    known = {item.name: item for item in fields(cls)}  # type: ignore[arg-type]
    for name in data:
        if name not in known:
            raise ValueError(f"{where} has a field “{name}” that nobody knows.")
    values: dict[str, Any] = {}
    for name, item in known.items():
        place = f"{where}.{name}"
        if name not in data:
            if item.default is MISSING and item.default_factory is MISSING:
                raise ValueError(f"{place} is missing.")
            continue
        if name in nested:
            values[name] = nested[name](data[name], place)
        else:
            values[name] = _plain(data[name], str(item.type), place)
    return cls(**values)


def _plain(value: Any, kind: str, place: str) -> Any:
    allowed = _PLAIN.get(kind)
    if allowed is None:
        return value
    # bool is an int to Python, but true is no number of minutes.
    if not isinstance(value, allowed) or (isinstance(value, bool) and bool not in allowed):
        raise ValueError(f"{place} should be {kind}, not {value!r}.")
    return value


def one_of(allowed: Sequence[str]) -> Callable[[Any, str], str]:
    """Return a reader that accepts only the words in ``allowed``."""

    def read(value: Any, place: str) -> str:
        if value not in allowed:
            raise ValueError(f"{place} should be one of {', '.join(allowed)}, not {value!r}.")
        return str(value)

    return read


def many(read: Callable[[Any, str], Item]) -> Callable[[Any, str], tuple[Item, ...]]:
    """Return a reader of a JSON list whose items ``read`` reads."""

    def read_all(value: Any, place: str) -> tuple[Item, ...]:
        if not isinstance(value, Sequence) or isinstance(value, str):
            raise ValueError(f"{place} should be a list.")
        return tuple(read(item, f"{place}[{index}]") for index, item in enumerate(value))

    return read_all
