"""Kernels of a heap of whole numbers, the least first; the caller keeps count."""

from __future__ import annotations

from cases.domain.planning.compiled.arrays import Ints
from cases.domain.planning.compiled.engine import lean


@lean
def put_in(heap: Ints, count: int, value: int) -> None:
    """Put a number into a heap of ``count``."""
    at = count
    while at and heap[(at - 1) // 2] > value:
        heap[at] = heap[(at - 1) // 2]
        at = (at - 1) // 2
    heap[at] = value


@lean
def take_out(heap: Ints, count: int) -> int:
    """Take the least number out of a heap, of which ``count`` are left."""
    first, last, at = heap[0], heap[count], 0
    while 2 * at + 1 < count:
        child = 2 * at + 1
        if child + 1 < count and heap[child + 1] < heap[child]:
            child += 1
        if heap[child] >= last:
            break
        heap[at] = heap[child]
        at = child
    heap[at] = last
    return first
