"""Bus words: the bits of a bus in each cycle, read in octal, hex or binary. Nothing here imports Qt."""

from __future__ import annotations

from typing import TYPE_CHECKING, Literal

import numpy as np

from app.widgets.traces.trace_rows import WordRow
from tracecore.capture import UNKNOWN, DigitalTrace, Int64, UInt8

if TYPE_CHECKING:
    from tracecore.comparison import Comparison

Base = Literal["oct", "hex", "bin"]
BASE_WORDS: dict[str, str] = {"oct": "octal", "hex": "hex", "bin": "binary"}
BITS_A_DIGIT: dict[str, int] = {"oct": 3, "hex": 4, "bin": 1}


def digits_of(bits: int, base: Base) -> int:
    """Digits of a word of so many bits."""
    return -(-bits // BITS_A_DIGIT[base])


def spell(states: UInt8, base: Base) -> list[str]:
    """Words of each cycle: uint8[bits, cycles], the least significant bit first, levels 0, 1 or 2 (unknown).

    A digit with an unknown bit reads ``?``.

    >>> spell(np.array([[1, 0], [1, 2], [1, 0], [0, 1]], np.uint8), "oct")
    ['07', '1?']
    """
    size = BITS_A_DIGIT[base]
    count = digits_of(len(states), base)
    padded = np.zeros((count * size, states.shape[1]), np.uint8)
    padded[: len(states)] = states
    digits = padded.reshape(count, size, -1)
    value = ((digits & 1) << np.arange(size, dtype=np.uint8)[None, :, None]).sum(axis=1)
    unknown = (digits == UNKNOWN).any(axis=1)
    letters = np.array(list("0123456789ABCDEF?"))
    table = letters[np.where(unknown, 16, value)][::-1]
    return ["".join(column) for column in table.T]


def word_pairs(row: WordRow, comparison: Comparison, first: int, stop: int, base: Base) -> list[tuple[str, str]]:
    """Good and suspect word of the good cycles ``first`` (closed) to ``stop`` (open).

    The state of a cycle is the level one sample period before the edge that ends it, each side by its own edges.
    """
    lineup, request = comparison.lineup, comparison.request
    good_at = lineup.good_edges_ps[first + 1 : stop + 1] - (request.good[0].resolution_ps if request.good else 1)
    suspect_step = request.suspect[0].resolution_ps if request.suspect else 1
    suspect_at = np.full(stop - first, np.iinfo(np.int64).min)
    for run in lineup.runs:
        a, b = max(first, run.good_start), min(stop, run.good_start + run.length)
        if a < b:
            move = run.suspect_start - run.good_start + 1
            suspect_at[a - first : b - first] = lineup.suspect_edges_ps[a + move : b + move] - suspect_step
    good = np.array([_levels(bit.good_trace if bit is not None else None, good_at) for bit in row.bits], np.uint8)
    suspect = np.array(
        [_levels(bit.suspect_trace if bit is not None else None, suspect_at) for bit in row.bits], np.uint8
    )
    return list(zip(spell(good, base), spell(suspect, base), strict=True))


def _levels(trace: DigitalTrace | None, at_ps: Int64) -> UInt8:
    return trace.level_at(at_ps) if trace is not None else np.full(len(at_ps), UNKNOWN, np.uint8)
