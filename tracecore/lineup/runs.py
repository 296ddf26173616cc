"""Runs of cycles that pair one to one. A condition may cut them into millions, so they are kept as one table."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import TypeVar, overload

import numpy as np
from numpy.typing import NDArray

from tracecore.capture import Int64

Kind = TypeVar("Kind", bound=np.generic)
_FEW = 50_000  # runs up to which pieces are joined: a list of all numbers needs more memory


@dataclass(frozen=True, slots=True)
class MatchedRun:
    """``length`` cycles that pair one to one from good cycle ``good_start`` and suspect cycle ``suspect_start`` on."""

    good_start: int
    suspect_start: int
    length: int


class Runs(Sequence[MatchedRun]):
    """Runs in order. ``table`` int64[R, 3] holds the good start, the suspect start and the length of each.

    >>> runs = Runs(np.array([[0, 12, 5], [5, 19, 3]]))
    >>> runs[-1], len(runs[:1]), runs == (MatchedRun(0, 12, 5), MatchedRun(5, 19, 3))
    (MatchedRun(good_start=5, suspect_start=19, length=3), 1, True)
    """

    __slots__ = ("table",)

    def __init__(self, table: Int64) -> None:
        self.table = np.asarray(table, np.int64).reshape(-1, 3)
        self.table.flags.writeable = False

    def __len__(self) -> int:
        return len(self.table)

    @overload
    def __getitem__(self, index: int) -> MatchedRun: ...
    @overload
    def __getitem__(self, index: slice) -> Runs: ...
    def __getitem__(self, index: int | slice) -> MatchedRun | Runs:
        if isinstance(index, slice):
            return Runs(self.table[index])
        return MatchedRun(*self.table[index].tolist())

    def __iter__(self) -> Iterator[MatchedRun]:
        # some thousand at a time: all of them as Python's numbers would need several times the table's memory
        for start in range(0, len(self.table), 4096):
            for row in self.table[start : start + 4096].tolist():
                yield MatchedRun(*row)

    def __eq__(self, other: object) -> bool:
        return isinstance(other, Sequence) and np.array_equal(self.table, runs_table(other))

    def __hash__(self) -> int:
        return hash(self.table.tobytes())

    def __repr__(self) -> str:
        return f"Runs({self.table.tolist()})" if len(self) < 20 else f"Runs of {len(self)} runs"


def runs_table(runs: Sequence[MatchedRun]) -> Int64:
    """int64[R, 3]: the good start, the suspect start and the length of each run.

    >>> runs_table((MatchedRun(0, 12, 5),)).tolist()
    [[0, 12, 5]]
    """
    if isinstance(runs, Runs):
        return runs.table
    return np.array([(r.good_start, r.suspect_start, r.length) for r in runs], np.int64).reshape(-1, 3)


def good_cycle_of(runs: Sequence[MatchedRun], suspect_cycle: int) -> int:
    """The good cycle that goes with a suspect one, counted on from the nearest run before it, 0 at least.

    >>> runs = (MatchedRun(0, 12, 5), MatchedRun(5, 20, 5))
    >>> good_cycle_of(runs, 13), good_cycle_of(runs, 22), good_cycle_of(runs, 3)
    (1, 7, 0)
    """
    return max(0, _carried(runs_table(runs)[:, [1, 0]], suspect_cycle))


def suspect_cycle_of(runs: Sequence[MatchedRun], good_cycle: int) -> int:
    """The suspect cycle that goes with a good one, in the same way; below 0 where there is none.

    >>> suspect_cycle_of((MatchedRun(0, 12, 5), MatchedRun(5, 20, 5)), 7)
    22
    """
    return _carried(runs_table(runs)[:, :2], good_cycle)


def _carried(starts: Int64, cycle: int) -> int:
    own, other = starts[max(0, int(starts[:, 0].searchsorted(cycle, "right")) - 1)].tolist()
    return int(other + cycle - own)


def run_indices(starts: Int64, lengths: Sequence[int] | Int64) -> Int64:
    """Numbers of each run in a row, from each of its starts: int64[len(starts[0]), sum(lengths)].

    >>> run_indices(np.array([[0, 2], [5, 9]]), [2, 3]).tolist()
    [[0, 1, 5, 6, 7], [2, 3, 9, 10, 11]]
    """
    count = np.asarray(lengths, np.int64)
    # one step from each number to the next, and a jump where a run begins: a running sum needs no second row of numbers
    out = np.ones((len(starts.T), int(count.sum())), np.int64)
    kept = count > 0
    first = (np.cumsum(count) - count)[kept]
    for row, own in zip(out, starts.T, strict=True):
        begin = own[kept]
        if len(begin):
            row[first] = np.append(begin[:1], np.diff(begin) - count[kept][:-1] + 1)
            np.cumsum(row, out=row)
    return out


def values_of_runs(values: NDArray[Kind], starts: Int64, lengths: Int64) -> NDArray[Kind]:
    """The values of each run in a row; a view where there is one run."""
    if len(starts) == 1:
        return values[starts[0] : starts[0] + lengths[0]]
    if len(starts) < _FEW:
        pieces = [values[a : a + n] for a, n in zip(starts.tolist(), lengths.tolist(), strict=True)]
        return np.concatenate([values[:0], *pieces])
    out = np.empty(int(lengths.sum()), values.dtype)
    done = 0
    for start in range(0, len(starts), _FEW):
        own = run_indices(starts[start : start + _FEW, None], lengths[start : start + _FEW])[0]
        out[done : done + len(own)] = values[own]
        done += len(own)
    return out
