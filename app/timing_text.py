"""Timing in words, for the terminal, the page and the report alike."""

from __future__ import annotations

from typing import TYPE_CHECKING

from tracecore.quantities import format_rate, format_time, group_digits

if TYPE_CHECKING:
    from tracecore.compare.timing_comparison import SignalTiming
    from tracecore.measure.part_figures import PathBudget
    from tracecore.measure.timing import TimingFigures


def nanoseconds(value_ps: float | None, *, sign: bool = False) -> str:
    """A duration to three digits, or "none"."""
    return "none" if value_ps is None else format_time(round(value_ps), digits=3, sign=sign)


def side_words(side: TimingFigures | None) -> str:
    """Median to latest delay of one side."""
    if side is None:
        return "not captured"
    if not side.count:
        return "no transitions"
    return f"{nanoseconds(side.median_ps)} to {nanoseconds(side.most_ps)}"


def difference_words(row: SignalTiming) -> str:
    """Suspect less good, and what it reads to."""
    if row.difference_ps is None:
        return "none"
    return f"{nanoseconds(row.difference_ps, sign=True)} ±{nanoseconds(row.difference_reads_to_ps)}"


def reading_sentence(row: SignalTiming) -> str:
    """What violates, how often, where, and what to do next."""
    worst = row.worst
    if worst is None:
        return f"{row.signal}: {row.why}."
    place = f" ({row.place})" if row.place else ""
    times = f"{group_digits(worst.breaking)} of {group_digits(row.suspect.count if row.suspect else 0)} transitions"
    where = "" if worst.good_cycle is None else f", the worst at cycle {group_digits(worst.good_cycle)}"
    source = "" if row.limits is None else f" ({row.limits.source})"
    unclear = f" {group_digits(worst.unclear)} more cannot be judged." if worst.unclear else ""
    move = "comes late, or the clock comes early" if worst.what == "setup" else "goes early, or the clock comes late"
    return (
        f"{row.signal}{place}: {times} leave less {worst.what} than {nanoseconds(worst.limit_ps)}{source}{where}: "
        f"{nanoseconds(worst.smallest.value_ps)}, reads to ±{nanoseconds(worst.resolution_ps)}.{unclear} "
        f"It may be that the signal {move}. Measure its driver's output and the clock at {row.into or 'the register'} "
        "together to tell."
    )


def budget_sentence(budget: PathBudget, cycle_ps: int) -> str:
    """The sum of maxima of a path against the cycle."""
    sums = " + ".join(f"{ps / 1000:g}" for ps in budget.durations_ps)
    parts = ", ".join(number for number, _ in budget.steps)
    spare = budget.spare_ps(cycle_ps)
    over = f"{nanoseconds(spare)} to spare" if spare >= 0 else f"{nanoseconds(-spare)} too much"
    against = f"; of a cycle of {nanoseconds(cycle_ps)} that is {over}" if cycle_ps else ""
    return (
        f"Path budget, sum of maxima: {sums} = {budget.total_ps / 1000:g} ns, "
        f"{format_rate(budget.highest_hz, digits=2)} at most ({parts}){against}."
    )
