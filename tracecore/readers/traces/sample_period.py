"""The sample period that shows in the times of rows, where no sample rate is stated.

An instrument writes a row where something changed, and often one more: where the capture begins, where it was
triggered, where it ends. Those need not lie on a sample, so the period is that of the steps between the other rows. A
spreadsheet keeps six or nine digits of each time, so that late times are coarser than early ones; the period is then
that of the fine ones, and what a late time is worth is told.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from tracecore.capture import Int64
from tracecore.quantities import format_time

# that unrelated times fall on a lattice by chance must be less likely than one in this many
_UNLIKELY = 1e6
# a row of begin or end that is off the lattice is common, so less speaks for it
_UNLIKELY_AT_AN_END = 1e4
# rows that need not lie on a sample: begin, trigger, end, and one more
_MOST_MARKS = 3
_PARTS = 9
# a period is as plain in so many steps as in more
_ENOUGH = 10_000
_ENDS = 64
_FEWEST_AT_AN_END = 20
_FEWEST_DIGITS = 5
_MOST_PIECES, _MOST_TRIED = 100_000, 200
_AT_ONCE = 1.9  # below 2, so that no period is tried beside its half
_SAME_TURNS = 0.5  # known so well, a period leaves no length a choice between two numbers of turns

Float64 = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Resolution:
    """``ps`` is one sample period or, where none shows, what a time is known to; ``how`` it was found, ``note`` what a
    person should know of it, empty where nothing."""

    ps: int
    how: str
    note: str = ""


def found_resolution(times_ps: Int64, last_ps: Int64, printed_ps: int, printed: str) -> Resolution:
    """What the times of rows can be told apart by.

    ``times_ps`` int64[N] are the first rows' times, ``last_ps`` int64[M] those of the last rows, in order;
    ``printed_ps`` is the last digit of the finest time, ``printed`` what that is in words.

    >>> found_resolution(np.arange(40) * 20_000, np.arange(40) * 20_000, 1000, "the last printed digit").how
    '20 ns, the step that the times lie on'
    """
    kept = digits_kept(times_ps, last_ps)
    grid = sample_grid(np.diff(times_ps), printed_ps) if kept is None else _grid_of_fine(times_ps, kept[0], printed_ps)
    if grid is None:
        ps, how = printed_ps, f"{format_time(printed_ps)}, {printed}; the instrument may be coarser"
    else:
        ps, how = grid[0], f"{format_time(grid[0])}, the step that the times lie on{grid[1]}"
    if kept is None or kept[1] <= ps:
        return Resolution(ps, how)
    coarse = format_time(kept[1])
    note = (
        f"The times are rounded to {kept[0]} digits, so that late ones are known to {coarse} only: "
        "nothing finer is known. Export the times with more digits."
    )
    return Resolution(kept[1], f"{coarse}, the last digit of late times; {how}", note)


def sample_grid(steps: Int64, printed_ps: int) -> tuple[int, str] | None:
    """The period that the steps between rows (int64[N], ps) lie on, and which rows were left aside, in words.

    >>> steps = np.array([84_000, *[20_000, 60_000, 100_000] * 7])
    >>> sample_grid(steps, 1000)
    (20000, '; the first row is off it')
    """
    real = steps[steps > 0][:_ENOUGH]
    best, said = lattice_step_ps(real, printed_ps), ""
    ends = ((real[1:], "the first row is"), (real[:-1], "the last row is"), (real[1:-1], "the first and last rows are"))
    for part, off in ends:
        step = lattice_step_ps(part, printed_ps)
        if _is_better(step, best, len(part), _UNLIKELY_AT_AN_END):
            best, said = step, f"; {off} off it"
    marked = _with_marks(real, printed_ps)
    if marked is not None and _is_better(marked[0], best, len(real)):
        off_it = "1 row such as a trigger is" if marked[1] == 1 else f"{marked[1]} rows such as a trigger are"
        best, said = marked[0], f"; {off_it} off it"
    return None if best is None else (best, said)


def _is_better(step: int | None, best: int | None, count: int, unlikely: float = _UNLIKELY) -> bool:
    """A coarser period is likelier where that all steps are multiples of it cannot be by chance. One that is a little
    longer is the same one, seen in fewer steps."""
    if step is None or best is None:
        return step is not None
    return step >= 1.5 * best and _chance(step / best, count) * unlikely < 1


def _with_marks(steps: Int64, printed_ps: int) -> tuple[int, int] | None:
    """The period that most parts of the rows agree on, and how many rows are off it, where these are few."""
    if len(steps) < 4 * _PARTS:
        return None
    found = sorted(p for part in np.array_split(steps, _PARTS) if (p := _period(part, printed_ps)) is not None)
    if len(found) <= _PARTS // 2:
        return None
    period = found[len(found) // 2]
    for _ in range(2):
        turns = np.round(steps / period)
        on = (np.abs(steps - turns * period) <= 1.05 * printed_ps + 1) & (turns > 0)
        if not on.any():
            return None
        period = float((steps[on] * turns[on]).sum() / (turns[on] ** 2).sum())
    off = np.flatnonzero(~on)
    rows = np.split(off, np.flatnonzero(np.diff(off) > 1) + 1) if len(off) else []
    for run in rows:
        whole = int(steps[run].sum())
        at_an_end = run[0] == 0 or run[-1] == len(steps) - 1
        if not at_an_end and abs(whole - round(whole / period) * period) > 2.1 * printed_ps + 1:
            return None
    count = sum(max(1, len(run) - 1) for run in rows)
    return (math.ceil(round(period, 1)), count) if count <= _MOST_MARKS else None


def digits_kept(times_ps: Int64, last_ps: Int64) -> tuple[int, int] | None:
    """Where all times are rounded to as many digits: how many these are, and the last digit of the coarsest, in ps.

    None where the times at both ends show decimals as fine as any.

    >>> times = np.array([float(f"{t:.6g}") for t in np.arange(1, 4000) * 1234567.0]).astype(np.int64)
    >>> digits_kept(times, times[-64:])
    (6, 10000)
    """
    parts = [part for part in (times_ps[:_ENDS], last_ps[-_ENDS:]) if len(part) >= _FEWEST_AT_AN_END]
    if not parts:
        return None
    lasts, digits = zip(*(_last_digit(part) for part in (times_ps, *parts)), strict=True)
    at = int(np.argmax(lasts[1:])) + 1
    if lasts[at] <= lasts[0] or digits[at] < max(_FEWEST_DIGITS, *digits):
        return None
    return digits[at], 10 ** lasts[at]


def _last_digit(times_ps: Int64) -> tuple[int, int]:
    """The power of ten of the finest last digit among the times, and the most digits that one of them has."""
    times = np.abs(times_ps[times_ps != 0])
    if not len(times):
        return 0, 0
    zeros = np.zeros(len(times), np.int64)
    for power in range(1, 18):
        if not (ends := times % 10**power == 0).any():
            break
        zeros += ends
    return int(zeros.min()), int((_figures(times) - zeros).max())


def _figures(times: Int64) -> Int64:
    """Digits of whole numbers above zero."""
    return np.asarray(np.searchsorted(10 ** np.arange(1, 19), times, side="right") + 1)


def _grid_of_fine(times_ps: Int64, digits: int, printed_ps: int) -> tuple[int, str] | None:
    """The period that shows in times whose last digit is fine enough, finest first."""
    powers = np.maximum(_figures(np.maximum(1, np.abs(times_ps))) - digits, 0)
    for power in range(int(powers.max()) + 1):
        unit = max(printed_ps, 10**power)
        fine = powers <= power
        steps = np.diff(times_ps)[fine[1:] & fine[:-1]]
        if len(steps) >= _FEWEST_AT_AN_END and (found := sample_grid(steps, unit)) is not None:
            return found
    return None


def lattice_step_ps(steps: Int64, printed_ps: int) -> int | None:
    """The period of which all ``steps`` (int64[N], ps) are whole multiples, rounded up to whole ps; None if none.

    First the exact common divisor. Where the printing has rounded the times, the longest period of which each step is a
    multiple to within one printed unit.

    >>> lattice_step_ps(np.array([20_000, 60_000, 100_000, 60_000, 20_000]), 1000)
    20000
    >>> lattice_step_ps(np.array([41_667, 83_333, 125_000, 208_333]), 1)
    41667
    """
    period = _period(steps, printed_ps)
    return None if period is None else math.ceil(round(period, 1))


def _period(steps: Int64, printed_ps: int) -> float | None:
    real = steps[steps > 0]
    if len(real) < 2:
        return None
    divisor = int(np.gcd.reduce(real))
    exact = float(divisor) if _chance(divisor / printed_ps, len(real)) * _UNLIKELY < 1 else None
    if divisor > 3 * printed_ps and exact is not None:
        return exact
    # rounded times may by chance all be even
    return _rounded_lattice(np.unique(real), len(real), printed_ps) or exact


def _chance(units: float, count: int) -> float:
    """Likelihood that ``count`` unrelated steps are multiples of ``units`` printed units."""
    return 1.0 if units <= 1 else math.exp(-count * math.log(units))


def _rounded_lattice(lengths: Int64, count: int, printed_ps: int) -> float | None:
    """The longest period of which all ``lengths`` (sorted and distinct) are multiples to within one printed unit."""
    off_ps, shortest = 1.05 * printed_ps + 1, _shortest_told(count, printed_ps)
    high = float(lengths[0]) + off_ps
    while high > shortest:
        # long ones first, since parts of a period fit as well and there are many short ones to try
        low = max(shortest, high / _AT_ONCE)
        found = [_fitted(lengths, period) for period in _possible_periods(lengths, low, high, off_ps)]
        within = [own for own in found if float(np.abs(own[1]).max()) <= off_ps]
        if within:
            # of several near one another the one that makes small errors, too, as rounding does
            return min(within, key=lambda own: float(np.square(own[1]).sum()))[0]
        high = low
    return None


def _fitted(lengths: Int64, period: float) -> tuple[float, Float64]:
    """The period that fits the lengths best where each keeps its number of turns, and how far each is off it then."""
    turns = np.maximum(1, np.round(lengths / period))
    fitted = float((lengths * turns).sum() / (turns * turns).sum())
    return fitted, lengths - turns * fitted


def _shortest_told(count: int, printed_ps: int) -> float:
    """Within a unit either way lie 2 of a period's units, and 1 more as it is fitted: that ``count`` steps are
    multiples of a longer one by chance is unlikely."""
    return 3 * printed_ps * math.exp(math.log(_UNLIKELY) / count)


def _possible_periods(lengths: Int64, low_ps: float, high_ps: float, off_ps: float) -> list[float]:
    """The middles of all stretches of periods between ``low_ps`` and ``high_ps`` of which each of the lengths is a
    multiple to within ``off_ps``. Each length leaves of every such stretch the pieces round it by each number of turns
    that it may be; lengths that would leave too many pieces are passed over."""
    low, high = np.array([low_ps]), np.array([high_ps])
    longest = float(lengths[-1])
    for length in _apart_first(lengths):
        if not len(low) or (len(low) == 1 and longest / low[0] - longest / high[0] < _SAME_TURNS):
            break
        fewest = np.maximum(1, np.ceil((length - off_ps) / high))
        pieces = np.maximum(0, np.floor((length + off_ps) / low) - fewest + 1).astype(np.int64)
        if int(pieces.sum()) > _MOST_PIECES:
            continue
        own = np.repeat(np.arange(len(low)), pieces)
        turns = fewest[own] + np.arange(len(own)) - np.repeat(np.cumsum(pieces) - pieces, pieces)
        low = np.maximum(low[own], (length - off_ps) / turns)
        high = np.minimum(high[own], (length + off_ps) / turns)
        there = low <= high
        low, high = low[there], high[there]
    return [float(middle) for middle in (low + high)[:_MOST_TRIED] / 2]


def _apart_first(lengths: Int64) -> list[int]:
    """The sorted lengths in another order: first some that grow by half from one to the next. Each of these narrows a
    period down as much as it can without leaving many pieces; those between tell little more."""
    first = [int(lengths[0])]
    while (at := int(lengths.searchsorted(1.5 * first[-1]))) < len(lengths):
        first.append(int(lengths[at]))
    return [*first, *np.setdiff1d(lengths, first).tolist()]
