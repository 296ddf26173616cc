"""Timing in words, for the terminal, the page and the report alike."""

from __future__ import annotations

from typing import TYPE_CHECKING

from tracecore.quantities import format_rate, format_time, group_digits, percent

if TYPE_CHECKING:
    from tracecore.compare.timing_comparison import SignalTiming, TimingReport
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


TWO_WAYS = (
    "Difference: of the medians of all delays on either side. Skew, as on Compare: the median over "
    "transitions that both sides have. So the two need not be alike. Parts of two sound boards may differ by "
    "10 ns (common practice)."
)
"""Stands wherever delays of both sides are set side by side."""


_MOVES = {
    "setup": "It may be that the signal comes late, or the clock comes early",
    "hold": "It may be that the signal goes early, or the clock comes late",
}
_SHORT = {"high pulse": "high pulses", "low pulse": "low pulses", "period": "cycles"}


def reading_sentence(row: SignalTiming) -> str:
    """What violates, how often, where, and what to do next."""
    worst = row.worst
    if worst is None:
        return f"{row.signal}: {row.why}."
    place = f" ({row.place})" if row.place else ""
    where = "" if worst.good_cycle is None else f", the worst at cycle {group_digits(worst.good_cycle)}"
    source = "" if row.limits is None else f" ({row.limits.source})"
    unclear = f" {group_digits(worst.unclear)} more cannot be judged." if worst.unclear else ""
    read = f"{nanoseconds(worst.smallest.value_ps)}, accurate to ±{nanoseconds(worst.resolution_ps)}"
    part = row.into or "the register"
    if not worst.breaking:
        needs = f"{part} needs {nanoseconds(worst.limit_ps)}{source}"
        return f"{row.signal}{place}: smallest {worst.what} {read}; {needs}.{unclear}"
    if worst.what in _SHORT:
        return (
            f"{row.signal}{place}: {group_digits(worst.breaking)} {_SHORT[worst.what]} are shorter than "
            f"{nanoseconds(worst.limit_ps)}{source}{where}: {read}.{unclear} It may be a weak driver or a heavy load. "
            f"Look at it with a scope at {part} and at its driver's output to tell."
        )
    times = f"{group_digits(worst.breaking)} of {group_digits(row.suspect.count if row.suspect else 0)} transitions"
    return (
        f"{row.signal}{place}: {times} leave less {worst.what} than {nanoseconds(worst.limit_ps)}{source}{where}: "
        f"{read}.{unclear} {_MOVES[worst.what]}. Measure its driver's output and the clock at {part} together to tell."
    )


def clock_short(report: TimingReport) -> str:
    """Both clocks in one line, good then suspect; empty where no single signal counts the cycles."""
    clocks = report.clocks
    if clocks is None:
        return ""
    parts = []
    for mark, side in (("●", clocks.good), ("■", clocks.suspect)):
        if not side.ticks:
            parts.append(f"{mark} hardly ticks")
            continue
        duty = "" if side.high_share is None else f", high {percent(side.high_share)}"
        parts.append(f"{mark} {nanoseconds(side.period_ps)}{duty}, jitter {nanoseconds(side.jitter_ps)}")
    if report.drift_ppm is not None:
        parts.append(f"drift {report.drift_ppm:+.0f} ppm".replace("-", "−"))
    return f"{clocks.signal}  " + "  ".join(parts)


def clock_lines(report: TimingReport) -> list[str]:
    """Both clocks by themselves, good first: cycle, duty factor, jitter, wander; then the drift between them."""
    clocks = report.clocks
    if clocks is None:
        return []
    lines = []
    for word, side in (("known-good", clocks.good), ("suspect", clocks.suspect)):
        if not side.ticks:
            lines.append(
                f"{clocks.signal}, {word}: {group_digits(len(side.edges_ps))} active edges, too few to measure."
            )
            continue
        duty = "duty factor not known" if side.high_share is None else f"high for {percent(side.high_share)}"
        odd = [
            f"{group_digits(count)} {noun}"
            for count, noun in (
                (len(side.missing_ps), "missing"),
                (len(side.double_ps), "double"),
                (len(side.extra_ps), "extra"),
            )
            if count
        ]
        lines.append(
            f"{clocks.signal}, {word}: cycle {nanoseconds(side.period_ps)} ({format_rate(side.rate_hz)}), {duty}, "
            f"period jitter {nanoseconds(side.jitter_ps)} rms beyond sampling, wander {percent(side.wander, digits=2)}"
            + (f", edges {', '.join(odd)}" if odd else "")
            + "."
        )
    if report.drift_ppm is not None:
        word = "longer" if report.drift_ppm >= 0 else "shorter"
        lines.append(f"Drift: the suspect's cycle is {abs(report.drift_ppm):.0f} ppm {word} than the known-good one's.")
    return lines


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
