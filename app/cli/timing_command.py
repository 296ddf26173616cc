"""``twinslot timing``: delays, setup and hold of both sides against parts' published figures."""

from __future__ import annotations

import argparse
import sys
from dataclasses import replace
from typing import TYPE_CHECKING, Any

from app.cli.levels_command import CANNOT_TELL, VIOLATES, WITHIN, add_pair
from app.cli.settings_options import comparing_options, reading_options, sides_options
from tracecore.errors import RequestError

if TYPE_CHECKING:
    from collections.abc import Iterable

    from rich.console import Console

    from tracecore.circuit.probe_sheet import ProbeSheet
    from tracecore.compare.timing_comparison import SignalTiming, TimingReport
    from tracecore.compare.timing_limits import TimingLimits
    from tracecore.comparison import Comparison


def add_timing(commands: Any) -> None:
    """The arguments of the command."""
    both = [reading_options(), comparing_options(), sides_options()]
    words = "delays, setup and hold of both sides"
    parser = commands.add_parser("timing", help=words, allow_abbrev=False, parents=both)
    parser.description = (
        "Measures when each signal changes after the active edge, on both sides, and judges setup and hold by the part "
        "that takes the signal in. No verdict is finer than the instruments."
    )
    parser.epilog = "Exit status: 0 nothing violates, 1 a signal does on the suspect side, 2 trouble or nothing judged."
    add_pair(parser)
    parser.add_argument(
        "--into", action="append", default=[], metavar="SIGNAL=PART", help="the part that takes it in: 'ACK=7474'"
    )
    parser.add_argument(
        "--needs",
        action="append",
        default=[],
        metavar="SIGNAL=SETUP,HOLD",
        help="setup and hold by hand, as 'ACK=20 ns,5 ns', or any of 'CLR=setup=.. hold=.. high=.. low=30 ns'",
    )
    parser.add_argument("--path", metavar="PARTS", help="sum of maxima along '7474 7404 7400 7474', against the cycle")
    parser.add_argument(
        "--transitions", choices=("both", "rising", "falling"), default="both", help="which of the signal's (both)"
    )


def _with_parts(sheet: ProbeSheet, texts: list[str]) -> ProbeSheet:
    """The sheet with the parts that were named."""
    from tracecore.circuit.probe_sheet import Probe

    probes = {p.signal: p for p in sheet.probes}
    for text in texts:
        signal, mark, part = (word.strip() for word in text.partition("="))
        if not mark or not signal or not part:
            raise RequestError(f"--into {text!r}: expected SIGNAL=PART, as in 'ACK=7474'.")
        probes[signal] = replace(probes.get(signal, Probe(signal, signal)), into=part)
    return replace(sheet, probes=tuple(probes.values()))


def _entered(texts: list[str]) -> dict[str, TimingLimits]:
    """Limits by signal, from 'ACK=20 ns,5 ns' or 'ACK=setup=20 ns low=30 ns'."""
    from tracecore.compare.timing_limits import ENTERED, TimingLimits, entered_limits
    from tracecore.quantities import parse_time_ps

    out = {}
    for text in texts:
        signal, mark, limits = (word.strip() for word in text.partition("="))
        wanted = "expected SIGNAL=SETUP,HOLD, as in 'ACK=20 ns,5 ns'"
        if not mark or not signal:
            raise RequestError(f"--needs {text!r}: {wanted}.")
        found = entered_limits(limits)
        if found is None:
            try:
                setup, hold = (round(parse_time_ps(part.strip())) for part in limits.split(","))
            except ValueError as error:
                raise RequestError(f"--needs {text!r}: {wanted}, or as in 'CLR=low=30 ns'.") from error
            found = TimingLimits(setup, hold, ENTERED)
        out[signal] = found
    return out


def _named(texts: list[str]) -> list[str]:
    return [text.partition("=")[0].strip() for text in texts]


def _known(named: Iterable[str], comparison: Comparison) -> None:
    """Raises RequestError for a signal that is not captured."""
    have = [s.signal for s in comparison.signals]
    for name in named:
        if name not in have:
            raise RequestError(f"{name} is not captured. There is {', '.join(have)}.")


def timing(arguments: argparse.Namespace) -> int:
    """Runs the command; status 1 where a signal violates its limits on the suspect side."""
    from app.cli.inputs import compared, read_sheet, request_typed
    from app.cli.terminal import console, say
    from app.report.timing_record import timing_csv, timing_json
    from tracecore.compare.learned_timing import more_good_timing
    from tracecore.compare.timing_comparison import TimingSettings, compare_timing
    from tracecore.measure.part_figures import path_budget

    budget = path_budget(tuple(arguments.path.split())) if arguments.path else None
    entered = _entered(arguments.needs)
    sheet = _with_parts(read_sheet(arguments.sheet), arguments.into)
    request = request_typed(arguments, sheet)
    sheet = request.sheet
    comparison = compared(request)
    settings = TimingSettings(entered, arguments.transitions)
    more = more_good_timing(request, comparison.lineup, settings)
    _known((*entered, *_named(arguments.into)), comparison)
    report = compare_timing(comparison.signals, comparison.lineup, sheet, settings, more)
    report = replace(report, clocks=comparison.clocks, drift_ppm=comparison.lineup.drift_ppm)
    if arguments.json == "-":
        sys.stdout.write(timing_json(report))
    else:
        out = console(sys.stdout)
        print_timing(report, out)
        if budget is not None:
            from app.timing_text import budget_sentence

            out.print(budget_sentence(budget, report.period_ps), soft_wrap=True)
    for path, text in ((arguments.csv, timing_csv), (arguments.json, timing_json)):
        if path and path != "-":
            from app.output_file import write_text

            write_text(path, text(report))
            say(f"Written: {path}")
    if report.diverges:
        return VIOLATES
    return CANNOT_TELL if all(row.verdict == "cannot be judged" for row in report.rows) else WITHIN


def print_timing(report: TimingReport, out: Console) -> None:
    """A row a signal, then what violates, then one line of caution."""
    from app.report.cautions import SHORT
    from app.table_text import plain_table
    from app.timing_text import TWO_WAYS, clock_lines, difference_words, reading_sentence, side_words
    from tracecore.quantities import format_time

    counts = ", ".join(
        f"{report.count(word)} {word}" for word in ("violates", "marginal", "cannot be judged", "within")
    )
    out.print(f"Setup and hold on the suspect side: {counts}.", style="bold", soft_wrap=True)
    arrow = "rising" if report.edge == "rising" else "falling"
    out.print(f"Delay after the {arrow} edge of {report.clock}; cycle {format_time(report.period_ps)}.", soft_wrap=True)
    for line in clock_lines(report):
        out.print(line, soft_wrap=True)
    out.print()

    def cells(row: SignalTiming) -> tuple[str, ...]:
        sides = side_words(row.good), side_words(row.suspect)
        return row.signal, row.place, row.into, *sides, difference_words(row), row.verdict, row.why

    head = ("Signal", "Pin", "Into", "Good, median to latest", "Suspect", "Difference", "Verdict", "Why")
    out.print(plain_table(head, [cells(row) for row in report.rows]), soft_wrap=True)
    out.print(TWO_WAYS, soft_wrap=True)
    for row in report.rows:
        if row.verdict == "violates":
            out.print()
            out.print(reading_sentence(row), soft_wrap=True)
    for note in report.notes:
        out.print(f"! {note}", soft_wrap=True)
    out.print()
    out.print(SHORT, soft_wrap=True)
