"""``twinslot part``: does the chip under a test clip obey its own inputs?"""

from __future__ import annotations

import argparse
import sys
from typing import TYPE_CHECKING, Any

from app.cli.inputs import read_captures
from app.cli.settings_options import reading_options, reading_typed
from tracecore.errors import RequestError

if TYPE_CHECKING:
    from tracecore.circuit.parts.catalogue import Part
    from tracecore.circuit.parts.clip_pair import LegPair
    from tracecore.circuit.parts.obedience import Obedience
    from tracecore.circuit.parts.pin_traces import PinTraces

OBEYS, DISOBEYS, CANNOT_TELL = 0, 1, 2


def add_part(commands: Any) -> None:
    """The arguments of the command."""
    words = "does a chip under a test clip obey its inputs?"
    parser = commands.add_parser("part", help=words, allow_abbrev=False, parents=[reading_options()])
    parser.description = (
        "Judges one chip by its published function, from a capture whose channels are its legs. With --good the same "
        "chip of the good board stands beside it."
    )
    parser.epilog = "Exit status: 0 it obeys, 1 it disobeys, 2 trouble, or it cannot be told."
    parser.add_argument("number", nargs="?", metavar="NUMBER", help="the number on the chip, such as 74LS138")
    parser.add_argument("--list", action="store_true", help="print the parts and end")
    parser.add_argument("--capture", metavar="FILE", help="capture from a clip on the chip")
    parser.add_argument("--good", metavar="FILE", help="the same from the good board")
    parser.add_argument("--pins", nargs="+", type=_lead, default=[], metavar="L00=1", help="channel and leg")
    parser.add_argument("--sheet", metavar="FILE", help="probe sheet (CSV) whose column pin holds the leg")
    parser.add_argument(
        "--tie", nargs="+", type=_tie, default=[], metavar="10=1", help="legs that stand still, and how"
    )
    parser.add_argument("--r", type=float, metavar="OHM", help="timing resistor of a one-shot")
    parser.add_argument("--c", type=float, metavar="FARAD", help="timing capacitor of a one-shot, such as 10e-9")
    parser.add_argument("--donors", metavar="FILE", help="stock list (CSV board,position,number,date_code)")
    parser.add_argument("--json", metavar="FILE", help="write the answer as JSON; - prints only that")


def part(arguments: argparse.Namespace) -> int:
    """Runs the command; status 1 where the chip disobeys, 2 where that cannot be told."""
    from app.cli.terminal import say
    from app.report.part_record import part_json
    from tracecore.circuit.parts.catalogue import exact_number, find_part
    from tracecore.circuit.parts.clip_pair import leg_pairs
    from tracecore.circuit.parts.replacements import read_donors, replacements

    if arguments.list:
        _print_list()
        return OBEYS
    if not arguments.number or not arguments.capture:
        raise RequestError(
            "Name the chip and its capture: twinslot part 74LS138 --capture clip.csv. --list has the parts."
        )
    found = find_part(arguments.number)
    number = exact_number(arguments.number, found)
    legs, suspect = _judged(arguments, found, number, arguments.capture)
    good = None
    pairs: tuple[LegPair, ...] = ()
    if arguments.good:
        good_legs, good = _judged(arguments, found, number, arguments.good)
        pairs = leg_pairs(found, good_legs, legs)
    may_replace = replacements(found, number, read_donors(arguments.donors) if arguments.donors else ())
    if arguments.json == "-":
        sys.stdout.write(part_json(suspect, good, may_replace, pairs))
    else:
        _print(suspect, good)
        _print_pairs(good, suspect, pairs)
        if suspect.verdict == "disobeys" or arguments.donors:
            _print_replacements(number, may_replace)
    if arguments.json and arguments.json != "-":
        from app.output_file import write_text

        write_text(arguments.json, part_json(suspect, good, may_replace, pairs))
        say(f"Written: {arguments.json}")
    return {"obeys": OBEYS, "disobeys": DISOBEYS}.get(suspect.verdict, CANNOT_TELL)


def _judged(arguments: argparse.Namespace, found: Part, number: str, path: str) -> tuple[PinTraces, Obedience]:
    from tracecore.circuit.parts.clip import clip_pins, legs_of
    from tracecore.circuit.parts.obedience import check_part
    from tracecore.circuit.parts.one_shot import pulse_ps
    from tracecore.circuit.probe_sheet import ProbeSheet, read_probe_sheet

    if (arguments.r is None) != (arguments.c is None):
        raise RequestError("A pulse's width takes both --r and --c.")
    width = None if arguments.r is None else pulse_ps(arguments.r, arguments.c)
    (capture,) = read_captures([path], reading_typed(arguments))
    sheet = read_probe_sheet(arguments.sheet) if arguments.sheet else ProbeSheet()
    legs = legs_of(capture, found, dict(arguments.pins), sheet)
    for leg, _level in arguments.tie:
        if leg not in found.signals:
            raise RequestError(f"{number} has no signal on leg {leg} to tie.")
    pins = clip_pins(capture, found, number, legs, dict(arguments.tie))
    return pins, check_part(found, number, pins, width_ps=width)


def _print(suspect: Obedience, good: Obedience | None) -> None:
    from app.cli.terminal import fit
    from app.report.part_words import answer, sentences, what_it_does

    print(fit(what_it_does(suspect.part), sys.stdout))
    if good is not None:
        print(fit(f"Known-good: {answer(good)}", sys.stdout))
        if good.verdict == "disobeys":
            print("The good board's chip disobeys too: look at clip and number first.")
    print(fit(("Suspect: " if good is not None else "") + answer(suspect), sys.stdout))
    for sentence in sentences(suspect):
        print(fit(f"  {sentence}", sys.stdout))


def _print_pairs(good: Obedience | None, suspect: Obedience, pairs: tuple[LegPair, ...]) -> None:
    """Pin by pin, where the good board's chip was captured too: what moves otherwise, and a count of the rest."""
    from app.cli.terminal import fit
    from app.report.part_words import leg_side_words, leg_words, other_output_words
    from tracecore.circuit.parts.clip_pair import other_outputs

    if good is None:
        return
    print("Pin by pin, beside the good board:")
    others = [pair for pair in pairs if pair.verdict != "alike"]
    for pair in others:
        sides = (leg_side_words(pair.good_moves, pair.good_high), leg_side_words(pair.suspect_moves, pair.suspect_high))
        print(fit(f"  {pair.leg:>2} {pair.name}: {leg_words(pair)} (good {sides[0]}; suspect {sides[1]})", sys.stdout))
    print(f"  {len(pairs) - len(others)} of {len(pairs)} legs move alike.")
    for output in other_outputs(good, suspect):
        print(fit(f"  {other_output_words(output)}", sys.stdout))


def _print_replacements(number: str, may_replace: tuple[Any, ...]) -> None:
    from app.cli.terminal import fit
    from app.report.part_words import replacement_words

    print("May take its place, by the table alone:")
    for found in may_replace:
        print(fit(f"  {found.number}: {replacement_words(number, found)}", sys.stdout))


def _print_list() -> None:
    from tracecore.circuit.parts.catalogue import all_parts

    for found in all_parts():
        print(f"{found.number:<7} {found.title}" + (f" ({', '.join(found.same_pins)})" if found.same_pins else ""))


def _lead(text: str) -> tuple[str, int]:
    channel, mark, leg = text.rpartition("=")
    if not mark or not channel or not leg.isdecimal():
        raise argparse.ArgumentTypeError(f"{text!r} is no channel and leg; write it as L00=1")
    return channel, int(leg)


def _tie(text: str) -> tuple[int, int]:
    leg, mark, level = text.partition("=")
    if not mark or not leg.isdecimal() or level not in ("0", "1"):
        raise argparse.ArgumentTypeError(f"{text!r} is no leg and level; write it as 10=1")
    return int(leg), int(level)
