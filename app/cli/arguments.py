"""What can be typed after ``twinslot``. Standard library only, so that ``--help`` answers at once."""

from __future__ import annotations

import argparse
from collections.abc import Sequence
from typing import Any, NoReturn

from app import __version__
from app.cli.case_arguments import add_case_commands, add_linked
from app.cli.completion import add_completion
from app.cli.continuity_command import add_continuity
from app.cli.desktop_command import add_desktop
from app.cli.levels_command import add_levels
from app.cli.part_command import add_part
from app.cli.pins_command import add_pins
from app.cli.quantity import quantity
from app.cli.settings_options import comparing_options, family_option, reading_options, sides_options
from app.cli.timing_command import add_timing

TROUBLE = 2

_EXAMPLES = """\
exit status: 0 agrees, 1 diverges, 2 cannot tell, or trouble

examples:
  twinslot                                  open the window
  twinslot compare --good north.csv --suspect south.csv --sheet slot7.csv --clock MCLK
  twinslot compare --good north.csv --suspect south.csv --out report
  twinslot check north.csv
  twinslot open case14.twinslot             open the window on a case, made if it is not there
  twinslot attach case14.twinslot south.csv --side suspect
  twinslot enter case14.twinslot "Stops at the third fetch" --kind seen
  twinslot report case14.twinslot --out report
  twinslot soak landing --good north1.csv north2.csv north3.csv --sheet slot7.csv
  twinslot levels --good north.csv --suspect south.csv --sheet slot7.csv --family 74LS
  twinslot timing --good north.csv --suspect south.csv --into ACK=7474
  twinslot continuity --good north.csv --suspect south.csv --pins pins.csv --net D03
  twinslot part 74LS138 --capture clip.csv
  twinslot demo --list
"""


class _Parser(argparse.ArgumentParser):
    """Tells what is wrong in one sentence instead of printing the whole usage."""

    def error(self, message: str) -> NoReturn:
        self.exit(TROUBLE, f"{self.prog}: {message}. See {self.prog} --help.\n")

    # a command's own parser speaks of what it does not know: its --help has the list
    def parse_known_args(self, args: Any = None, namespace: Any = None) -> tuple[Any, list[str]]:
        known, left = super().parse_known_args(args, namespace)
        if left:
            self.error(self._not_known(next((word for word in left if word.startswith("-")), left[0])))
        return known, left

    def _not_known(self, word: str) -> str:
        from difflib import get_close_matches

        if not word.startswith("-"):
            return f"{word!r} is one word too many"
        name = word.partition("=")[0]
        near = get_close_matches(name, self._option_string_actions, 1, 0.7)
        return f"{name} is no option here" + (f"; {near[0]} is" if near else "")


def parse(argv: Sequence[str]) -> argparse.Namespace:
    """The arguments as a namespace with ``command`` None or the command's name; exits with 2 if wrong."""
    return parser().parse_args(list(argv))


def parser() -> argparse.ArgumentParser:
    """All commands and their options."""
    made: argparse.ArgumentParser = _Parser(
        prog="twinslot",
        description="Compares captures of a known-good and a suspect board: which signal went wrong first, how, "
        "and where to probe next. Without a command the window opens.",
        epilog=_EXAMPLES,
        formatter_class=argparse.RawDescriptionHelpFormatter,
        allow_abbrev=False,
    )
    made.add_argument("--version", action="version", version=f"twinslot {__version__}")
    commands = made.add_subparsers(dest="command", metavar="COMMAND", title="commands")
    both = [reading_options(), comparing_options()]
    words = "compare known-good and suspect captures"
    _compare(commands.add_parser("compare", help=words, allow_abbrev=False, parents=[*both, sides_options()]))
    words, one = "what is in a capture; is it fit to compare?", [reading_options(), family_option()]
    _check(commands.add_parser("check", help=words, allow_abbrev=False, parents=one))
    _demo(commands.add_parser("demo", help="a case of the invented demo plant", allow_abbrev=False))
    add_case_commands(commands)
    add_levels(commands)
    add_timing(commands)
    add_continuity(commands)
    add_part(commands)
    add_pins(commands)
    words = "watch a folder; compare each capture as it lands"
    _soak(commands.add_parser("soak", help=words, allow_abbrev=False, parents=[*both, sides_options()]))
    words = "put the program into a desktop's menu"
    add_desktop(commands.add_parser("desktop", help=words, allow_abbrev=False))
    words = "print what a shell needs to complete commands and options"
    add_completion(commands.add_parser("completion", help=words, allow_abbrev=False))
    return made


def _compare(parser: argparse.ArgumentParser) -> None:
    parser.description = "Compares the first capture of each side; further ones count in how often a fault is seen."
    parser.epilog = "Exit status: 0 agrees, 1 diverges, 2 cannot tell, or trouble."
    parser.add_argument("--good", nargs="+", required=True, metavar="FILE", help="captures of the known-good board")
    parser.add_argument("--suspect", nargs="+", required=True, metavar="FILE", help="captures of the suspect board")
    _sheet(parser)
    parser.add_argument("--wires", metavar="FILE", help="wire list (CSV part,kind,output,inputs): what feeds what")
    parser.add_argument("--pins", metavar="FILE", help="pin list: the net, the driver and the chip behind each pin")
    parser.add_argument("--readings", metavar="FILE", help="ohm readings of both sides, beside the likely causes")
    parser.add_argument("--out", metavar="FOLDER", help="write the report here: HTML, PDF, CSV and JSON")
    parser.add_argument("--json", metavar="FILE", help="write the comparison as JSON; - prints only that")
    parser.add_argument(
        "--pair", metavar="FILE", help="write both sides on one time: .vcd a value change dump, else plain rows"
    )


def _check(parser: argparse.ArgumentParser) -> None:
    parser.description = "Says what is in each capture and whether it is fit to compare."
    parser.epilog = "Exit status: 0 fit to compare, 1 a capture is not, 2 trouble."
    parser.add_argument("files", nargs="+", metavar="FILE", help="captures to look at")
    _sheet(parser)


def _soak(parser: argparse.ArgumentParser) -> None:
    parser.description = (
        "Watches a folder for hours. Each capture that lands there is compared with the known-good ones when it is "
        "complete; those that diverge are shown at once. Three good captures or more teach what varies among them."
    )
    parser.epilog = "Exit status: 0 all agree, 1 some diverge, 2 cannot tell of some, or trouble."
    parser.add_argument("folder", metavar="FOLDER", help="where the captures land")
    parser.add_argument("--good", nargs="+", default=[], metavar="FILE", help="captures of the known-good board")
    parser.add_argument(
        "--case", metavar="CASE", help="take the good ones from a case, and enter the outcome in its log"
    )
    add_linked(parser)
    _sheet(parser)
    parser.add_argument("--new-only", action="store_true", help="leave out what is there already")
    parser.add_argument("--all", action="store_true", help="show those that agree, too")
    parser.add_argument(
        "--out",
        metavar="FILE",
        help="add a row for each capture to this CSV; a watch that begins with it goes on with its counts",
    )
    parser.add_argument(
        "--largest", type=int, metavar="MB", help="give up a file that holds more than this, unzipped (4096)"
    )
    parser.add_argument(
        "--settle",
        type=float,
        default=2.0,
        metavar="S",
        help="seconds for which a file must be still to be complete (2)",
    )
    parser.add_argument("--captures", type=int, metavar="N", help="end after so many were compared")
    parser.add_argument(
        "--stop-after",
        type=quantity("parse_time_ps", "a time such as '30 s'"),
        metavar="TIME",
        help="end after this time, such as '3600 s'",
    )
    parser.add_argument("--by", metavar="INITIALS", default="", help="who signs the line in the log")


def _demo(parser: argparse.ArgumentParser) -> None:
    parser.description = (
        "Opens the window on a case of the invented demo plant. With --out, or where there is no display, it "
        "compares the case and writes the report instead: without --out into the documents folder."
    )
    parser.epilog = "Exit status: 0 done, 2 trouble."
    parser.add_argument("name", nargs="?", metavar="NAME", help="which case (the first of --list)")
    parser.add_argument("--out", metavar="FOLDER", help="write the report here instead of opening the window")
    parser.add_argument("--picture", action="store_true", help="put a picture of the window beside the report")
    parser.add_argument("--list", action="store_true", help="list the cases")


def _sheet(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("--sheet", metavar="FILE", help="probe sheet (CSV): which pin each channel was clipped to")
