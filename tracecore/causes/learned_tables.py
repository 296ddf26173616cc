"""What a part does, learnt from the good capture: its output as a table over its inputs.

A gate's output is looked up from its inputs in the same cycle, a register's from those of the cycle before, that of a
register with an enable besides from what it held itself. An entry counts that was seen three times or more, always with
one output. Where an entry was seen with both, the net is no function of the captured inputs (a bus, a part with a state
inside), and nothing is learnt; nor where the output never moved, or where chance would make as good a table. In the
suspect a net that breaks its own table is wrong of itself; one that differs and obeys it got wrong inputs.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from math import log

import numpy as np
from numpy.typing import NDArray

from tracecore.capture import HIGH, LOW, UNKNOWN, Int64, UInt8
from tracecore.circuit.wire_list import CLOCKED, Wired, WireList
from tracecore.compare.divergence import Divergence

FEWEST = 3
"""How often an entry must be seen to count."""
WIDEST = 12
"""Inputs; a wider table would hardly be filled by a capture."""
BY_CHANCE = 1e-6
"""A table that unrelated levels would make as often as this says nothing; many nets are tried on many captures."""


@dataclass(frozen=True, slots=True, eq=False)
class Learned:
    """A table: ``outputs`` uint8[2**inputs], UNKNOWN where too little was seen; ``cycles`` it was learnt from. What a
    register with an enable held itself is its last input."""

    row: Wired
    outputs: UInt8
    cycles: int

    @property
    def entries(self) -> int:
        """How many entries are known."""
        return int((self.outputs != UNKNOWN).sum())


@dataclass(frozen=True, slots=True)
class Outcome:
    """The suspect against a table. ``broken`` of ``checked`` cycles do not obey; ``first`` is the index of the first
    such matched cycle, None without; ``differing_obeyed`` cycles differ from the good side and obey; ``open_pins``
    are inputs which, read at a fixed level throughout, would explain the output. Where the output stands ``still`` a
    held output would do so as well."""

    learned: Learned
    broken: int
    checked: int
    first: int | None
    differing_obeyed: int
    open_pins: tuple[tuple[str, str], ...] = ()
    still: bool = False


def check_tables(
    found: Mapping[str, Divergence], wires: WireList, breaks: Int64, loaded: Mapping[str, int]
) -> dict[str, Outcome]:
    """Learns and checks a table for each net with one driver whose inputs are all captured.

    ``breaks`` int64[B]: indices of matched cycles that do not directly follow the one before (behind a slip).
    ``loaded`` are the indices from which on nets that came up otherwise are judged: before, no part has made them.
    """
    out: dict[str, Outcome] = {}
    for row in wires.rows:
        if row.kind == "memory" or len(wires.drivers(row.output)) != 1 or len(_looked_at(row)) > WIDEST:
            continue
        if not all(net in found for net in (row.output, *row.inputs)):
            continue
        outcome = _checked(row, found, breaks, loaded.get(row.output, 0))
        if outcome is not None:
            out[row.output] = outcome
    return out


def _looked_at(row: Wired) -> tuple[str, ...]:
    """The nets that the table looks at: a register with an enable keeps what it had."""
    return (*row.inputs, row.output) if row.kind == "enabled register" else row.inputs


def learn(row: Wired, words: Int64, outputs: UInt8) -> Learned | None:
    """Learns a table from input words int64[N] (-1 unknown, the first input in bit 0) and outputs uint8[N]; None where
    there is nothing to learn.

    >>> row = Wired("U1", "gate", "Y", ("A",))
    >>> learn(row, np.array([0, 1] * 20), np.array([1, 0] * 20, np.uint8)).outputs.tolist()
    [1, 0]
    >>> learn(row, np.array([0, 1] * 20), np.ones(40, np.uint8)) is None
    True
    """
    known = (words >= 0) & (outputs != UNKNOWN)
    size = 1 << len(_looked_at(row))
    seen = np.bincount(words[known], minlength=size)
    high = np.bincount(words[known & (outputs == HIGH)], minlength=size)
    often = seen >= FEWEST
    mixed = (high > 0) & (high < seen)
    if mixed.any() or not often.any() or not _moves(outputs[known]):
        return None
    if _log_chance(words[known], outputs[known], often) > log(BY_CHANCE):
        return None
    table = np.full(size, UNKNOWN, np.uint8)
    table[often] = np.where(high[often] > 0, HIGH, LOW)
    return Learned(row, table, int(known.sum()))


def _moves(levels: UInt8) -> bool:
    return bool((levels == HIGH).any() and (levels == LOW).any())


def _log_chance(words: Int64, outputs: UInt8, often: NDArray[np.bool_]) -> float:
    """The logarithm of how likely unrelated levels would show one output in each entry. What stands still for several
    cycles is seen once; levels as often high as this output is are drawn for each entry."""
    fresh = np.append(True, (words[1:] != words[:-1]) | (outputs[1:] != outputs[:-1]))
    seen = np.bincount(words[fresh], minlength=len(often))[often].astype(np.float64)
    high = float((outputs[fresh] == HIGH).mean())
    # the first sight of an entry teaches, each further one confirms by chance with the output's own share
    alike = max(high, 1 - high)
    return float(np.maximum(seen - 1, 0).sum() * log(alike)) if alike < 1 else 0.0


def _checked(row: Wired, found: Mapping[str, Divergence], breaks: Int64, loaded: int) -> Outcome | None:
    good = [found[net].good_states for net in _looked_at(row)]
    learned = learn(row, *_paired(row, _words(good), found[row.output].good_states, breaks))
    if learned is None:
        return None
    inputs = [_settled(found[net]) for net in _looked_at(row)]
    words, outputs = _paired(row, _words(inputs), _settled(found[row.output]), breaks)
    expected = _looked_up(learned.outputs, words)
    judged = (expected != UNKNOWN) & (outputs != UNKNOWN)
    # an output that is right from wrong inputs met what the good capture never showed: that says nothing of its part
    judged &= (expected == outputs) | found[row.output].differing
    judged[:loaded] = False
    wrong = judged & (expected != outputs)
    obeyed = judged & ~wrong & found[row.output].differing
    first = int(wrong.argmax()) if wrong.any() else None
    pins = _open_pins(learned, words, outputs) if first is not None else ()
    still = len(set(outputs[outputs != UNKNOWN].tolist())) == 1
    if still and any(level == "high" for _, level in pins):
        # an open TTL input reads high (common practice), so that is told rather than one held low
        pins = tuple(pin for pin in pins if pin[1] == "high")
    return Outcome(learned, int(wrong.sum()), int(judged.sum()), first, int(obeyed.sum()), pins, still)


def _settled(found: Divergence) -> UInt8:
    """The suspect's states; where the instant of reading alone makes a difference, that of the good side."""
    both = (found.good_states != UNKNOWN) & (found.suspect_states != UNKNOWN)
    return np.where(both & ~found.differing, found.good_states, found.suspect_states)


def _words(states: list[UInt8]) -> Int64:
    words = np.zeros(len(states[0]), np.int64)
    unknown = np.zeros(len(states[0]), np.bool_)
    for bit, own in enumerate(states):
        words |= (own == HIGH).astype(np.int64) << bit
        unknown |= own == UNKNOWN
    words[unknown] = -1
    return words


def _paired(row: Wired, words: Int64, outputs: UInt8, breaks: Int64) -> tuple[Int64, UInt8]:
    """Input words beside the outputs they lead to; -1 where the cycle before is not known."""
    if row.kind not in CLOCKED:
        return words, outputs
    before = np.concatenate((np.array([-1], np.int64), words[:-1]))
    before[breaks[breaks < len(before)]] = -1
    return before, outputs


def _looked_up(table: UInt8, words: Int64) -> UInt8:
    return np.where(words >= 0, table[np.maximum(words, 0)], UNKNOWN).astype(np.uint8)


def _open_pins(learned: Learned, words: Int64, outputs: UInt8) -> tuple[tuple[str, str], ...]:
    """Inputs that explain the output when read low or high throughout."""
    out = []
    for bit, net in enumerate(learned.row.inputs):
        for level, word in ((0, "low"), (1, "high")):
            forced = np.where(words >= 0, (words & ~(1 << bit)) | (level << bit), -1)
            expected = _looked_up(learned.outputs, forced)
            judged: NDArray[np.bool_] = (expected != UNKNOWN) & (outputs != UNKNOWN)
            if judged.sum() > 20 and float((expected == outputs)[judged].mean()) > 0.999:
                out.append((net, word))
    return tuple(out)
