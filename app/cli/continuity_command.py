"""``twinslot continuity``: ohm readings of two backplanes against each other, and where to read next."""

from __future__ import annotations

import argparse
import sys
from dataclasses import replace
from datetime import date
from math import inf
from pathlib import Path
from typing import TYPE_CHECKING, Any

from tracecore.errors import RequestError
from tracecore.file_name import file_name

if TYPE_CHECKING:
    from tracecore.circuit.continuity.comparison import ContinuityComparison
    from tracecore.circuit.continuity.path import NetPath
    from tracecore.circuit.continuity.plan import MeasuringPlan
    from tracecore.circuit.continuity.readings import ContinuityList
    from tracecore.circuit.pin_list import PinList

SAME, DIFFERS, CANNOT_TELL = 0, 1, 2
MOST_PLANNED = 20
"""Rows to measure that are printed; a plan of a whole slot belongs on paper."""


def add_continuity(commands: Any) -> None:
    """The arguments of the command."""
    parser = commands.add_parser("continuity", help="compare ohm readings of two backplanes", allow_abbrev=False)
    parser.description = (
        "Compares two continuity lists (CSV from,to,ohms,side,read_on,by,note). Ohms are a number with k or M, open, "
        "or nothing where they are to be measured. Both sides may be given the same file."
    )
    parser.epilog = "Exit status: 0 no pair differs, 1 some do, 2 no pair is read on both sides, or trouble."
    parser.add_argument("--good", required=True, metavar="FILE", help="readings of the known-good backplane")
    parser.add_argument("--suspect", required=True, metavar="FILE", help="readings of the suspect backplane")
    parser.add_argument("--pins", metavar="FILE", help="pin list (CSV net,slot,pin,part,part_pin,direction,note)")
    parser.add_argument("--net", metavar="NAME", help="where to read next on this net of the pin list")
    parser.add_argument("--to", metavar="PIN", default="", help="the receiver that goes wrong, such as 7-B04")
    parser.add_argument("--limit", type=float, default=1.0, metavar="OHM", help="a reading below this joins (1)")
    parser.add_argument("--raised", type=float, default=1.0, metavar="OHM", help="so much above good is raised (1)")
    parser.add_argument("--good-leads", type=float, metavar="OHM", help="the leads alone on the good side")
    parser.add_argument("--suspect-leads", type=float, metavar="OHM", help="the leads alone on the suspect side")
    parser.add_argument("--slot", metavar="SLOT", help="plan every pin of this slot, by the pin list")
    parser.add_argument("--plan", metavar="FILE", help="write what is to be measured as a numbered sheet (PDF)")
    parser.add_argument("--page", choices=("A4", "Letter"), default="A4", help="size of the sheet (A4)")
    parser.add_argument("--meter", metavar="FILE", help="take what a logging meter wrote, in the plan's order")
    parser.add_argument(
        "--typed", nargs="+", type=_typed, default=[], metavar="1=0.2", help="what was read, by the number on the sheet"
    )
    parser.add_argument("--keep", metavar="FILE", help="write all readings, those of the plan too, as one list")
    parser.add_argument("--csv", metavar="FILE", help="write a row for each pair")
    parser.add_argument("--json", metavar="FILE", help="write the comparison as JSON; - prints only that")


def continuity(arguments: argparse.Namespace) -> int:
    """Runs the command; status 1 where a pair differs, 2 where none could be compared."""
    from app.cli.terminal import say
    from app.report.continuity_record import continuity_csv, continuity_json
    from tracecore.circuit.continuity.comparison import compare_continuity
    from tracecore.circuit.continuity.path import located, next_reading
    from tracecore.circuit.continuity.plan import plan_between, plan_of, read_meter
    from tracecore.circuit.continuity.readings import Side, read_continuity, write_continuity
    from tracecore.circuit.pin_list import PinList, read_pin_list

    for limit in (arguments.limit, arguments.raised):
        if not 0 < limit < inf:
            raise RequestError(f"{limit:g} ohm is no limit. Give one above 0.")
    pins = read_pin_list(arguments.pins) if arguments.pins else PinList()
    readings = read_continuity(arguments.good, "good").and_those_of(read_continuity(arguments.suspect, "suspect"))
    readings = readings.with_leads(arguments.good_leads, "good").with_leads(arguments.suspect_leads, "suspect")
    readings = replace(readings, joins_ohms=arguments.limit, raised_ohms=arguments.raised)
    if Path(arguments.good) != Path(arguments.suspect):
        for note in readings.notes:
            say(note)
    plan = plan_of(compare_continuity(readings).pairs)
    if arguments.slot:
        plan = plan_between(_slot_pairs(pins, arguments.slot), readings)
    if arguments.meter:
        for reading in read_meter(arguments.meter, plan):
            readings = readings.entered(reading)
    for reading in plan.filled(dict(arguments.typed)):
        readings = readings.entered(reading)
    found = compare_continuity(readings)
    path = _path(pins, arguments.net, arguments.to)
    step = next_reading(path, readings) if path else None
    place = located(path, readings) if path else None
    nets = {point: row.net for row in pins.rows for point in row.points}
    if arguments.json == "-":
        sys.stdout.write(continuity_json(found, nets, step, place))
    else:
        _print(found, nets, pins, path, readings)
        _print_plan(plan, dict(arguments.typed))
    if arguments.json and arguments.json != "-":
        from app.output_file import write_text

        write_text(arguments.json, continuity_json(found, nets, step, place))
        say(f"Written: {arguments.json}")
    if arguments.csv:
        from app.output_file import write_text

        write_text(arguments.csv, continuity_csv(found, nets))
        say(f"Written: {arguments.csv}")
    if arguments.keep:
        leads: tuple[tuple[Side, float], ...] = (
            ("good", readings.good_leads_ohms),
            ("suspect", readings.suspect_leads_ohms),
        )
        Path(arguments.keep).write_text(write_continuity(readings.readings, leads), encoding="utf-8")
        say(f"Written: {arguments.keep}")
    if arguments.plan:
        from app.output_file import write_bytes
        from app.report.measuring_plan import plan_pdf

        title = f"Slot {arguments.slot}" if arguments.slot else f"{file_name(arguments.suspect)}, to measure"
        pdf = plan_pdf(plan, title, page=arguments.page, printed=date.today().isoformat())
        write_bytes(arguments.plan, pdf)
        say(f"Written: {arguments.plan}, {len(plan.rows)} rows")
    if not found.tells:
        return CANNOT_TELL
    return DIFFERS if found.differs else SAME


def _print_plan(plan: MeasuringPlan, typed: dict[int, str]) -> None:
    """What is left to measure, by the numbers that --typed takes."""
    from app.cli.terminal import fit
    from app.report.continuity_words import POWER_OFF, reads

    rows = [row for row in plan.rows if row.number not in typed]
    if not rows:
        return
    print(fit(POWER_OFF, sys.stdout))
    print(fit(f"To measure on the {plan.side} side, by the numbers of --typed 1=0.2 2=open:", sys.stdout))
    for row in rows[:MOST_PLANNED]:
        known = "" if row.good_ohms is None else f"; the other side reads {reads(row.good_ohms)}"
        note = f"; {row.note}" if row.note else ""
        print(fit(f"  {row.number:>3}  {row.start} to {row.end}{note}{known}", sys.stdout))
    if len(rows) > MOST_PLANNED:
        print(fit(f"  and {len(rows) - MOST_PLANNED} more: --plan writes them all.", sys.stdout))


def _typed(text: str) -> tuple[int, str]:
    number, mark, ohms = text.partition("=")
    if not mark or not number.isdecimal():
        raise argparse.ArgumentTypeError(f"{text!r} is no number and reading; write it as 1=0.2")
    return int(number), ohms


def _slot_pairs(pins: PinList, slot: str) -> tuple[tuple[str, str], ...]:
    pairs = pins.slot_pairs(slot)
    if not pairs:
        raise RequestError(
            f"The pin list has no pin of slot {slot} with another pin on its net. Give --pins and a slot."
        )
    return pairs


def _path(pins: PinList, net: str | None, to: str) -> NetPath | None:
    from tracecore.circuit.continuity.pin_name import pin_name

    if net is None:
        return None
    if not pins.of_net(net):
        raise RequestError(f"The pin list has no net {net!r}. Give --pins with a list that has it.")
    try:
        end = pin_name(to) if to else ""
    except ValueError as error:
        raise RequestError(f"{to!r} is no pin. Write it as slot-pin, such as 7-B04.") from error
    path = pins.path_of(net, end)
    if path is None:
        raise RequestError(f"The pin list knows no driver of {net}, or no pin {end or 'behind it'}. Add the row.")
    return path


def _print(
    found: ContinuityComparison,
    nets: dict[str, str],
    pins: PinList,
    path: NetPath | None,
    readings: ContinuityList,
) -> None:
    from app.cli.terminal import fit
    from app.report.continuity_words import (
        POWER_OFF,
        located_words,
        may_say,
        next_words,
        ohms_words,
        outcome,
        pin_fault_words,
        sentences,
        verdict_words,
    )
    from tracecore.circuit.continuity.path import located, next_reading

    def line(text: str) -> None:
        print(fit(text, sys.stdout))

    line(outcome(found))
    for pair in found.pairs:
        if pair.differs:
            net = nets.get(pair.start, "")
            ohms = f"good {ohms_words(pair.good_ohms) or 'joined over others'}, suspect {ohms_words(pair.suspect_ohms)}"
            line(f"  {pair.start:>8} to {pair.end:<8} {net:<10} {ohms}: {verdict_words(pair)}")
    for sentence in sentences(found):
        line(sentence)
    for fault in pins.faults():
        line(pin_fault_words(fault))
    if path is None:
        return
    place = located(path, readings)
    if place is not None:
        line(located_words(place))
    step = next_reading(path, readings)
    if step is not None:
        line(POWER_OFF)
        line(f"Next: {next_words(step)}")
        for answer, told in may_say(step):
            line(f"  {answer}: {told}.")
