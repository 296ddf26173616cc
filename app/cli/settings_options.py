"""The options that say how files are read and how they are compared, the same after every command that has them.

What was not typed is None, so that a case can say it instead. Standard library only at first: ``--help`` answers at
once.
"""

from __future__ import annotations

import argparse
from typing import TYPE_CHECKING, Any

from app.cli.quantity import add_columns, cycles, quantity

if TYPE_CHECKING:
    from tracecore.readers.settings import ReadSettings
    from tracecore.settings import CompareSettings

OPTIONS = {
    "clock": "--clock",
    "edge": "--edge",
    "offset": "--offset",
    "same_start": "--same-start",
    "family": "--family",
    "tolerance_ps": "--tolerance",
    "qualifier": "--leave-out",
    "same_file": "--same-file",
    "supply_v": "--supply",
    "bandwidth_hz": "--bandwidth",
}
"""Each field of ``CompareSettings`` and what is typed for it."""


def reading_options() -> argparse.ArgumentParser:
    """How a file is read, where it does not say it itself; a parent of every command that reads captures."""
    parser = argparse.ArgumentParser(add_help=False)
    group = parser.add_argument_group("how files are read")
    group.add_argument(
        "--rate",
        type=quantity("parse_rate_hz", "a rate such as '24 MHz'"),
        metavar="RATE",
        help="sample rate such as '24 MHz', for files that state none",
    )
    group.add_argument(
        "--word-base",
        choices=("hex", "octal", "binary"),
        help="base of bus words in files whose words do not show it",
    )
    group.add_argument(
        "--layout",
        metavar="NAME",
        help="layout of files that can be taken in two ways; 'cycle rows' where the board's own clock took each row",
    )
    group.add_argument("--first-row", type=_line, metavar="LINE", help="line of the first row of data, from 1")
    group.add_argument("--delimiter", type=_delimiter, metavar="CHAR", help="comma, semicolon, tab or a character")
    group.add_argument(
        "--time-unit", choices=("s", "ms", "us", "ns", "ps"), help="unit of times, whatever the heading says"
    )
    add_columns(group)
    return parser


def _delimiter(text: str) -> str:
    """The character of a name such as semicolon, or the character itself."""
    found = {"comma": ",", "semicolon": ";", "tab": "\t"}.get(text.lower(), text)
    if len(found) != 1:
        raise argparse.ArgumentTypeError(f"{text!r} is no delimiter; give comma, semicolon, tab or one character")
    return found


def _line(text: str) -> int:
    """The number of a line, from 1."""
    if not text.isdecimal() or int(text) < 1:
        raise argparse.ArgumentTypeError(f"{text!r} is no line; count from 1")
    return int(text)


def sides_options() -> argparse.ArgumentParser:
    """How the files of a side belong together, and the names of both sides; a parent of compare, levels and timing."""
    parser = argparse.ArgumentParser(add_help=False)
    group = parser.add_argument_group("how both sides belong together")
    group.add_argument(
        "--join",
        metavar="HOW",
        help="the files of a side are parts of one run, no repeats: 'trigger' where all began with the same trigger, "
        "else a signal that each of them holds, as logic or, in one of two files, in volts",
    )
    group.add_argument("--good-sheet", metavar="FILE", help="probe sheet of the known-good side alone")
    group.add_argument("--suspect-sheet", metavar="FILE", help="probe sheet of the suspect side alone")
    group.add_argument(
        "--match-names",
        action="store_true",
        help="names that differ by case, blanks, strokes or a prefix alone are one signal",
    )
    return parser


def family_option() -> argparse.ArgumentParser:
    """The family alone, for a check of captures by themselves."""
    parser = argparse.ArgumentParser(add_help=False)
    _family(parser)
    return parser


def comparing_options() -> argparse.ArgumentParser:
    """How two sides are compared; a parent of compare, soak and attach."""
    parser = argparse.ArgumentParser(add_help=False)
    group = parser.add_argument_group("how they are compared")
    group.add_argument("--clock", metavar="NAME", help="signal whose edges count the cycles (found if not given)")
    group.add_argument("--edge", choices=("rising", "falling"), help="the clock's active edge (rising)")
    group.add_argument(
        "--offset",
        type=cycles,
        metavar="N",
        help="line up by hand: suspect cycle = good cycle + N (found if not given)",
    )
    group.add_argument(
        "--same-start", action="store_true", default=None, help="both sides were triggered by the same event"
    )
    group.add_argument(
        "--leave-out",
        dest="qualifier",
        metavar="CONDITION",
        help="leave out each side's cycles in which this holds, as 'RFSH == 1 || WAIT' (operators of IEEE Std 1364)",
    )
    _family(group)
    group.add_argument(
        "--tolerance",
        dest="tolerance_ps",
        type=_whole_ps,
        metavar="TIME",
        help="how far apart matched transitions may lie, such as '20 ns' (both sample periods and 10 ns)",
    )
    group.add_argument(
        "--supply", dest="supply_v", type=_volts, metavar="VOLTS", help="supply at the chips, such as '4.9 V' (5 V)"
    )
    group.add_argument(
        "--bandwidth",
        dest="bandwidth_hz",
        type=_bandwidth,
        metavar="HZ",
        help="of the scope with its probe, such as '100 MHz': no transition reads shorter than 0.35 / bandwidth",
    )
    group.add_argument(
        "--same-file", action="store_true", default=None, help="allow the same file on both sides, as a self-test"
    )
    return parser


def _family(group: Any) -> None:
    group.add_argument("--family", metavar="74LS", help="logic family of channels in volts (74)")


def _volts(text: str) -> float:
    from tracecore.settings import HIGHEST_SUPPLY_V

    value = float(quantity("parse_volts", "a supply such as '4.9 V'")(text))
    if not 0 < value <= HIGHEST_SUPPLY_V:
        raise argparse.ArgumentTypeError(f"{text!r} is no supply of logic; give one such as '4.9 V'")
    return value


def _bandwidth(text: str) -> float:
    return float(quantity("parse_rate_hz", "a bandwidth such as '100 MHz'")(text))


def _whole_ps(text: str) -> int:
    return round(quantity("parse_time_ps", "a time such as '20 ns'")(text))


def typed(arguments: argparse.Namespace) -> dict[str, Any]:
    """The settings that were typed, by name. Raises RequestError for a family that is not there, or a condition that
    is none."""
    given = {name: value for name in OPTIONS if (value := getattr(arguments, name, None)) is not None}
    if "family" in given:
        from tracecore.measure.families import family

        family(given["family"])
    if given.get("qualifier"):
        from tracecore.lineup.condition import parse

        parse(given["qualifier"])
    if given.get("qualifier") == "":
        given["qualifier"] = None
    return given


def settings_typed(arguments: argparse.Namespace) -> CompareSettings:
    """The settings as typed, and the rest as always."""
    from tracecore.settings import CompareSettings

    return CompareSettings(**typed(arguments))


def reading_typed(arguments: argparse.Namespace) -> ReadSettings:
    """How files are to be read, as typed."""
    from tracecore.readers.plan.words import base_number
    from tracecore.readers.settings import ReadSettings

    base = base_number(arguments.word_base)
    columns = tuple(dict(arguments.column).items())
    return ReadSettings(
        arguments.rate,
        arguments.layout,
        delimiter=arguments.delimiter,
        first_row=arguments.first_row,
        time_unit=arguments.time_unit,
        word_base=base,
        columns=columns,
    )


def reading_of_case(typed_reading: ReadSettings, kept: ReadSettings, case: str) -> ReadSettings:
    """How the case's first known-good capture is read, which serves what lands beside it, and what was typed where that
    says nothing. Raises RequestError where both speak and differ."""
    from dataclasses import fields, replace

    from tracecore.errors import RequestError

    more = {}
    for field in fields(typed_reading):
        said, own = getattr(typed_reading, field.name), getattr(kept, field.name)
        if not said or said == own:
            continue
        if own:
            raise RequestError(
                f"{field.name.replace('_', ' ')}: found {said} typed, but the known-good capture of {case} is read "
                f"with {own}; expected the same. Leave the option out."
            )
        more[field.name] = said
    return replace(kept, **more)


def settings_of_case(arguments: argparse.Namespace, kept: CompareSettings, case: str) -> CompareSettings:
    """The settings of a case. Raises RequestError where an option says otherwise: two truths would be kept."""
    from tracecore.errors import RequestError

    for name, value in typed(arguments).items():
        own = getattr(kept, name)
        if value != own:
            found = "nothing" if own is None else own
            raise RequestError(
                f"{OPTIONS[name]} says {value}, but {case} has {found}; expected the same. Leave the option out, or "
                f"change the case with: attach {case} {OPTIONS[name]} ..."
            )
    return kept
