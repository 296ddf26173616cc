"""What can be typed after the commands that work on a case. Standard library only."""

from __future__ import annotations

from typing import Any

from app.cli.circuit_files import circuit_options
from app.cli.settings_options import comparing_options, reading_options, sides_options

KINDS = ("seen", "suspected", "measured", "done", "result")
STATES = ("open", "waiting for a part", "repaired", "verified", "parked")


def add_case_commands(commands: Any) -> None:
    """Adds open, attach, enter, log, report, card, earlier and rescue to the parsers of ``commands``."""
    _open(commands.add_parser("open", help="open the window on a case, made if it is not there", allow_abbrev=False))
    both = [reading_options(), comparing_options()]
    words = "add captures, a sheet or settings to a case"
    _attach(commands.add_parser("attach", help=words, allow_abbrev=False, parents=[*both, sides_options()]))
    _enter(commands.add_parser("enter", help="write a line into a case's log", allow_abbrev=False))
    _log(commands.add_parser("log", help="print a case's log", allow_abbrev=False))
    _report(commands.add_parser("report", help="write a case's report", allow_abbrev=False))
    _card(commands.add_parser("card", help="a bench card of a likely cause, as PDF", allow_abbrev=False))
    _earlier(commands.add_parser("earlier", help="search a folder of cases", allow_abbrev=False))
    _rescue(commands.add_parser("rescue", help="recover what a damaged case still holds", allow_abbrev=False))


def _case(parser: Any, words: str) -> None:
    parser.description = words
    parser.epilog = "Exit status: 0 done, 2 trouble."
    parser.add_argument("case", metavar="CASE", help="case file, as case14.twinslot")


def _by(parser: Any) -> None:
    parser.add_argument("--by", metavar="INITIALS", default="", help="who signs (the user's initial)")


def _open(parser: Any) -> None:
    parser.description = "Opens the window on a case. A case that is not there is made; without one the window opens."
    parser.epilog = "Exit status: 0 done, 2 trouble."
    parser.add_argument("case", nargs="?", metavar="CASE", help="case file, as case14.twinslot")
    parser.add_argument("--title", metavar="TEXT", help="what the case is called")
    parser.add_argument("--number", metavar="N", help="its number")
    parser.add_argument("--good-unit", metavar="TEXT", help="the known-good unit: NAME, SLOT, SERIAL, NOTE")
    parser.add_argument("--suspect-unit", metavar="TEXT", help="the suspect unit, likewise")
    _by(parser)


def _attach(parser: Any) -> None:
    _case(parser, "Adds captures to one side of a case; their files go into the case, so that it is whole elsewhere.")
    parser.add_argument("files", nargs="*", metavar="FILE", help="captures")
    parser.add_argument("--new", action="store_true", help="make the case where it is not there")
    parser.add_argument("--side", choices=("good", "suspect"), help="which side the captures are of")
    parser.add_argument("--sheet", metavar="FILE", help="probe sheet (CSV)")
    circuit_options(parser)
    parser.add_argument(
        "--inside",
        type=int,
        default=512,
        metavar="MB",
        help="files up to this size go into the case, larger ones are linked (512)",
    )
    _by(parser)


def add_linked(parser: Any) -> None:
    """Adds the word with which a person agrees to files outside the case."""
    parser.add_argument(
        "--linked", action="store_true", help="read the files that the case names outside it; say this if you know them"
    )


def _enter(parser: Any) -> None:
    _case(
        parser, "Writes a line into the log. Lines are never overwritten: --corrects adds one that puts another right."
    )
    parser.add_argument("text", metavar="TEXT", help="what was seen, suspected, measured or done, in one line")
    parser.add_argument("--kind", choices=KINDS, default="seen", help="what kind of line (seen)")
    parser.add_argument("--cycle", type=int, metavar="N", help="good cycle that the line is about")
    parser.add_argument("--signal", metavar="NAME", help="with --cycle: the report shows this signal's figure there")
    parser.add_argument("--because", type=int, action="append", default=[], metavar="N", help="entry that led to this")
    parser.add_argument("--corrects", type=int, metavar="N", help="entry that this one puts right")
    parser.add_argument("--helped", choices=("yes", "no"), help="for a result: did it help?")
    parser.add_argument("--picture", action="append", default=[], metavar="FILE", help="photo to keep with the line")
    parser.add_argument(
        "--reading", action="append", default=[], metavar="TEXT", help="meter reading: WHERE, GOOD, SUSPECT, UNIT"
    )
    parser.add_argument(
        "--part", action="append", default=[], metavar="TEXT", help="part moved: PART, FROM, TO, DATE CODE"
    )
    parser.add_argument("--proof", metavar="K/N", help="K of N captures after the repair diverge, as 0/300")
    parser.add_argument("--state", choices=STATES, help="the case comes into this state")
    _by(parser)


def _log(parser: Any) -> None:
    _case(parser, "Prints the state of a case and its log.")


def _report(parser: Any) -> None:
    _case(parser, "Compares the case as it stands and writes its report: HTML, PDF, CSV and JSON.")
    parser.add_argument("--out", metavar="FOLDER", help="write into this folder (CASE-report)")
    parser.add_argument("--sections", metavar="A,B", help="only these sections, as summary,findings,log")
    parser.add_argument("--page", choices=("A4", "Letter"), default="A4", help="size of the PDF's pages")
    add_linked(parser)


def _card(parser: Any) -> None:
    _case(parser, "Writes a one-page card to take to the cabinet: pins to probe next, what to expect, boxes to fill.")
    parser.add_argument("--signal", metavar="NAME", help="of this likely cause (the best supported one)")
    parser.add_argument("--out", metavar="FILE", help="write here (bench-card-NUMBER.pdf)")
    parser.add_argument("--page", choices=("A4", "Letter"), default="A4", help="size of the page")
    add_linked(parser)
    _by(parser)


def _earlier(parser: Any) -> None:
    parser.description = "Searches the cases of a folder; all that is given must be found."
    parser.epilog = "Exit status: 0 found, 1 nothing found, 2 trouble."
    parser.add_argument("folder", metavar="FOLDER", help="where the cases lie")
    parser.add_argument("words", nargs="*", metavar="WORD", help="looked for in title, log, marks and moved parts")
    parser.add_argument("--slot", metavar="N", default="", help="slot, as 7")
    parser.add_argument("--part", metavar="NAME", default="", help="part that was moved, as 7474")
    parser.add_argument("--mode", metavar="TEXT", default="", help="fault mode, as 'stuck low'")


def _rescue(parser: Any) -> None:
    _case(parser, "Makes a new case of what can be read in a damaged one. The damaged file is not written to.")
    parser.add_argument("new", metavar="NEW", help="where to write what came back")
    _by(parser)
