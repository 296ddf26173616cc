"""``twinslot levels``: volts of both sides against what the families promise and take."""

from __future__ import annotations

import argparse
import sys
from dataclasses import replace
from typing import TYPE_CHECKING, Any

from app.cli.settings_options import comparing_options, reading_options, reading_typed, sides_options
from tracecore.errors import RequestError

if TYPE_CHECKING:
    from rich.console import Console

    from tracecore.capture import Capture
    from tracecore.compare.level_comparison import LevelReport
    from tracecore.compare.request import CompareRequest
    from tracecore.compare.signal_levels import SignalLevels

WITHIN, VIOLATES, CANNOT_TELL = 0, 1, 2


def add_pair(parser: argparse.ArgumentParser) -> None:
    """The arguments that name both sides, and what to write; how they line up is in the parents of the parser."""
    parser.add_argument("--good", nargs="+", required=True, metavar="FILE", help="captures of the known-good board")
    parser.add_argument("--suspect", nargs="+", required=True, metavar="FILE", help="captures of the suspect board")
    parser.add_argument("--sheet", metavar="FILE", help="probe sheet (CSV): pins, families, parts")
    parser.add_argument("--csv", metavar="FILE", help="write rows as CSV")
    parser.add_argument("--json", metavar="FILE", help="write all as JSON; - prints only that")


def add_levels(commands: Any) -> None:
    """The arguments of the command."""
    words = "volts of both sides against their families"
    both = [reading_options(), comparing_options(), sides_options()]
    parser = commands.add_parser("levels", help=words, allow_abbrev=False, parents=both)
    parser.description = (
        "Measures the volts of both sides: where each signal rests, what margin is left to the input that reads it, "
        "transitions, and levels that an input may read either way."
    )
    parser.epilog = (
        "Exit status: 0 nothing violates, 1 a signal does on the suspect side, 2 trouble, nothing judged, or a margin "
        "that only the suspect lacks."
    )
    add_pair(parser)
    parser.add_argument(
        "--drives",
        action="append",
        default=[],
        metavar="SIGNAL=DRIVER>RECEIVER",
        help="families of one signal, as 'ACK=74>74LS'; limits may be entered as 'VIL=0.8 VIH=2.0 VOL=0.4 VOH=2.4'",
    )
    for side in ("good", "suspect"):
        parser.add_argument(
            f"--{side}-logic",
            metavar="FILE",
            help=f"a logic capture of the same run as the first --{side} file, joined with it",
        )
    parser.add_argument(
        "--through", metavar="SCOPE=LOGIC", help="the signal that both captures of one run hold, by its two names"
    )


def chosen_families(texts: list[str]) -> dict[str, tuple[str, str]]:
    """Driver and receiver by signal, from 'ACK=74>74LS'. Raises RequestError for one that is not of that form."""
    out = {}
    for text in texts:
        signal, mark, both = text.partition("=")
        driver, arrow, receiver = both.partition(">")
        if not mark or not signal.strip() or not driver.strip():
            raise RequestError(f"--drives {text!r}: expected SIGNAL=DRIVER>RECEIVER, as in 'ACK=74>74LS'.")
        out[signal.strip()] = driver.strip(), receiver.strip() if arrow else driver.strip()
    return out


def _joined(
    captures: tuple[Capture, ...], logic_file: str | None, arguments: argparse.Namespace, asked: CompareRequest
) -> tuple[tuple[Capture, ...], str]:
    """The first capture joined with the logic capture of its run, where one is named, and what was found."""
    if not logic_file:
        return captures, ""
    from app.cli.inputs import read_captures
    from tracecore.compare.capture_signals import capture_signals
    from tracecore.lineup.one_run import join

    if not arguments.through:
        raise RequestError("A logic capture of the same run is joined through a signal. Name it with --through.")
    on_scope, _, on_logic = (part.strip() for part in arguments.through.partition("="))
    names = (on_logic or on_scope, on_scope)
    (logic,) = read_captures([logic_file], reading_typed(arguments))
    sides = [capture_signals(one, asked.sheet, asked.family, asked.supply_v) for one in (logic, captures[0])]
    for name, side in zip(names, sides, strict=True):
        if name not in side.traces:
            have = ", ".join(side.traces)
            raise RequestError(
                f"--through: {side.capture.name} has no signal {name}; it has {have}. Name one of these."
            )
    channels = tuple(side.channel_of[name] for name, side in zip(names, sides, strict=True))
    traces = (side.traces[name] for name, side in zip(names, sides, strict=True))
    found = join(logic, captures[0], (channels[0], channels[1]), *traces)
    return (found.capture, *captures[1:]), found.sentence


def levels(arguments: argparse.Namespace) -> int:
    """Runs the command; status 1 where a signal violates its limits on the suspect side."""
    from app.cli.inputs import compared, read_sheet, request_typed
    from app.cli.terminal import console, fit, say
    from app.report.levels_record import levels_csv, levels_json
    from tracecore.compare.level_comparison import compare_levels, level_request, short_margins
    from tracecore.measure.families import family

    families = chosen_families(arguments.drives)
    for both in families.values():
        for name in both:
            family(name)
    sheet = read_sheet(arguments.sheet)
    asked = request_typed(arguments, sheet)
    sheet = asked.sheet
    good, joined_good = _joined(asked.good, arguments.good_logic, arguments, asked)
    suspect, joined_suspect = _joined(asked.suspect, arguments.suspect_logic, arguments, asked)
    asked = replace(asked, good=good, suspect=suspect)
    comparison = compared(asked)
    unknown = set(families) - {s.signal for s in comparison.signals}
    if unknown:
        have = ", ".join(s.signal for s in comparison.signals)
        raise RequestError(f"--drives: {', '.join(sorted(unknown))} is not captured. There is {have}.")
    request = replace(level_request(asked), families=families)
    report = compare_levels(comparison.signals, comparison.lineup, sheet, request)
    if not report.rows:
        raise RequestError(
            "No channel of these captures is in volts. Capture with a scope, or say --column NAME=volts."
        )
    if arguments.json == "-":
        sys.stdout.write(levels_json(report))
    else:
        for words in (joined_good, joined_suspect):
            if words:
                print(fit(words, sys.stdout))
        print_levels(report, bool(comparison.lineup), console(sys.stdout))
    for path, text in ((arguments.csv, levels_csv), (arguments.json, levels_json)):
        if path and path != "-":
            from app.output_file import write_text

            write_text(path, text(report))
            say(f"Written: {path}")
    if report.diverges:
        return VIOLATES
    if all(row.verdict == "cannot be judged" for row in report.rows) or short_margins(report):
        return CANNOT_TELL
    return WITHIN


def print_levels(report: LevelReport, lined_up: bool, out: Console) -> None:
    """A table of margins, then what stands out, then one line of caution."""
    from app.levels_text import too_slow
    from app.report.cautions import SHORT
    from app.table_text import plain_table
    from tracecore.quantities import format_volts

    judged = len(report.rows) - report.count("cannot be judged")
    words = f"{report.count('violates')} of {judged} signals in volts violate their limits on the suspect side."
    if not judged:
        words = "No signal can be judged in volts on the suspect side."
    out.print(words, style="bold", soft_wrap=True)
    if report.count("cannot be judged"):
        out.print(f"{report.count('cannot be judged')} cannot be judged.", soft_wrap=True)
    if not lined_up:
        out.print("Not lined up: nothing is placed at a cycle.", soft_wrap=True)
    out.print()

    def volts(value: float | None) -> str:
        return "none" if value is None else format_volts(value)

    rows = []
    for row in report.rows:
        families = row.suspect or row.good
        pair = "" if families is None else f"{families.driver.name} > {families.receiver.name}"
        sides = (row.good, row.suspect)
        low, high = (
            " | ".join("no volts" if s is None else volts(getattr(s, name)) for s in sides)
            for name in ("low_margin_v", "high_margin_v")
        )
        rows.append((row.signal, row.place, pair, low, high, row.verdict))
    head = ("Signal", "Pin", "Families", "Low margin, good | suspect", "High margin", "Verdict")
    out.print(plain_table(head, rows), soft_wrap=True)
    for row in report.rows:
        if row.finding is not None:
            out.print()
            for line in finding_lines(row):
                out.print(line, soft_wrap=True)
    slow = [row.signal for row in report.rows if too_slow(row)]
    if slow:
        words = f"The instrument is too slow to tell rise times of {', '.join(slow)}; they are not compared."
        out.print(f"! {words}", soft_wrap=True)
    for note in report.notes:
        out.print(f"! {note}", soft_wrap=True)
    out.print()
    out.print(SHORT, soft_wrap=True)


def finding_lines(row: SignalLevels) -> list[str]:
    """What stands out on a signal, in lines."""
    from app.levels_text import shift_words
    from app.report.cautions import AT_THE_PINS

    finding = row.finding
    if finding is None:
        return []
    place = f" ({row.place})" if row.place else ""
    lines = [f"{row.signal}{place}: {finding.title}", f"   {finding.text}"]
    lines += [f"   {words[:1].upper()}{words[1:]}." for words in shift_words(row)]
    if finding.since_cycle is not None:
        lines.append(f"   First at cycle {finding.since_cycle}.")
    if finding.probe:
        lines += [f"   Probe next: {finding.probe}.", f"   {AT_THE_PINS}"]
    lines += [f"   {reads}: {may}." for reads, may in finding.readings]
    return lines
