"""One command from its arguments to its exit status; the only place of the command line that catches errors."""

from __future__ import annotations

import argparse
import os
import sys
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING

from app.cli.arguments import TROUBLE, parse, parser
from app.cli.display import has_display
from app.cli.inputs import compared, read_captures, read_circuit, read_sheet, read_wires, request_typed
from app.cli.settings_options import reading_typed, typed
from app.documents import documents_folder

if TYPE_CHECKING:
    from demo_traces import DemoCase
    from tracecore.comparison import CompareRequest
    from tracecore.errors import TwinslotError

AGREES, DIVERGES = 0, 1
BROKEN_PIPE = 141
"""What a shell reports for a program whose reader went away (128 + SIGPIPE); 0 and 1 would claim a verdict."""


def run(argv: list[str]) -> int:
    """Runs a command; prints one sentence to stderr and returns 2 where it cannot be done."""
    try:
        arguments = parse(argv)
    except SystemExit as leaving:
        return int(leaving.code or 0)
    from tracecore.errors import TwinslotError

    try:
        status = _dispatch(arguments)
        sys.stdout.flush()
        return status
    except TwinslotError as error:
        return _trouble(str(error) + _taken_for(error))
    except BrokenPipeError:
        # what is still buffered would fail once more at exit
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        return BROKEN_PIPE
    except OSError as error:
        if not error.filename and not _has_folder():
            return _trouble("The folder in which this command was given is gone. Change into another one.")
        where = error.filename or "A file"
        return _trouble(f"{where}: cannot be read or written ({error.strerror or error}). Check the path and the disk.")
    except MemoryError:
        return _trouble("Not enough memory for these captures. Compare a shorter stretch.")
    except Exception as error:  # noqa: BLE001 - a traceback would end with status 1, which claims a divergence
        from app.trouble_log import unforeseen

        return _trouble(unforeseen(error))


def _has_folder() -> bool:
    try:
        os.getcwd()
    except OSError:
        return False
    return True


def _trouble(sentence: str) -> int:
    from app.cli.terminal import say

    say(f"twinslot: {sentence}")
    return TROUBLE


def _dispatch(arguments: argparse.Namespace) -> int:
    if arguments.command is not None:
        from app.cli.named_files import check_named_files

        check_named_files(arguments)
    if arguments.command == "compare":
        return _compare(arguments)
    if arguments.command == "check":
        return _check(arguments)
    if arguments.command == "demo":
        return _demo(arguments)
    if arguments.command == "soak":
        from app.cli.soak_command import soak

        return soak(arguments)
    if arguments.command == "levels":
        from app.cli.levels_command import levels

        return levels(arguments)
    if arguments.command == "timing":
        from app.cli.timing_command import timing

        return timing(arguments)
    if arguments.command == "continuity":
        from app.cli.continuity_command import continuity

        return continuity(arguments)
    if arguments.command == "pins":
        from app.cli.pins_command import pins

        return pins(arguments)
    if arguments.command == "part":
        from app.cli.part_command import part

        return part(arguments)
    if arguments.command == "completion":
        from app.cli.completion import completion

        return completion(arguments, parser())
    if arguments.command == "desktop":
        from app.cli.desktop_command import desktop

        return desktop(arguments)
    if arguments.command is not None and not (arguments.command == "open" and arguments.case is None):
        from app.cli.case_commands import COMMANDS

        return COMMANDS[arguments.command](arguments)
    from app.shell.run import run as open_window

    return int(open_window() or 0)


def _compare(arguments: argparse.Namespace) -> int:
    from app.cli.terminal import print_comparison, say
    from app.report import comparison_json, write_json, write_report
    from app.report.cause_readings import with_readings
    from app.report.folder import check_folder

    typed(arguments)
    if arguments.out:
        check_folder(Path(arguments.out))
    sheet = read_sheet(arguments.sheet)
    pins, readings = read_circuit(arguments.pins, arguments.readings)
    comparison = compared(request_typed(arguments, sheet, read_wires(arguments.wires), pins))
    comparison = with_readings(comparison, pins, readings)
    written: list[Path] = []
    if arguments.out:
        written += write_report(comparison, Path(arguments.out), printed=date.today().isoformat())
    if arguments.json and arguments.json != "-":
        written.append(write_json(comparison, Path(arguments.json)))
    if arguments.pair:
        from app.report.lined_up import write_lined_up

        written.append(write_lined_up(comparison, arguments.pair))
    if arguments.json == "-":
        sys.stdout.write(comparison_json(comparison))
    else:
        print_comparison(comparison, sys.stdout)
    for path in written:
        say(f"Written: {path}")
    return comparison.outcome.exit_status


def _check(arguments: argparse.Namespace) -> int:
    """Looks at each file; one that cannot be read is told of, and the others are looked at all the same."""
    from app.cli.terminal import print_checkup
    from tracecore.errors import CaptureFileError
    from tracecore.measure.checkup import check

    sheet = read_sheet(arguments.sheet)
    status = AGREES
    default_family = typed(arguments).get("family", "74")
    for name in arguments.files:
        try:
            (capture,) = read_captures([name], reading_typed(arguments))
        except CaptureFileError as error:
            # the others are still worth a look
            status = max(status, _trouble(str(error) + _taken_for(error)))
            continue
        checkup = check(capture, sheet, default_family)
        print_checkup(capture, checkup, sheet, sys.stdout)
        if any(line.kind == "bad" for line in checkup.lines):
            status = max(status, DIVERGES)
    return status


def _demo(arguments: argparse.Namespace) -> int:
    from app.cli.terminal import print_comparison, say
    from app.report import write_report
    from app.report.cause_readings import with_readings
    from app.report.folder import check_folder
    from demo_traces import CASES
    from tracecore.errors import RequestError

    if arguments.list:
        for case in CASES.values():
            print(f"{case.name}  {case.title}")
        return AGREES
    name = arguments.name or next(iter(CASES))
    if name not in CASES:
        raise RequestError(f"There is no demo case {name!r}. Take one of: {', '.join(CASES)}.")
    case = CASES[name]
    if not arguments.out and not arguments.picture and has_display():
        from app.shell.run import run as open_window

        return int(open_window(case) or 0)
    folder = Path(arguments.out) if arguments.out else documents_folder() / f"Twinslot demo {name}"
    check_folder(folder)
    _pins, readings = read_circuit(None, str(case.readings) if case.readings else None)
    request = demo_request(case)
    comparison = with_readings(compared(request), request.pins, readings)
    written = [*write_report(comparison, folder, printed=date.today().isoformat())]
    if arguments.picture or not arguments.out:
        written.append(_picture(case, folder))
    print_comparison(comparison, sys.stdout)
    for path in written:
        say(f"Written: {path.absolute()}")
    return AGREES


def _picture(case: DemoCase, folder: Path) -> Path:
    from app.report.folder import PICTURE
    from app.shell.picture import picture

    path = folder / PICTURE
    picture(case, path)
    return path


def demo_request(case: DemoCase) -> CompareRequest:
    """The comparison that a demo case asks for; reads its files."""
    from tracecore.circuit.pin_list import read_pin_list
    from tracecore.comparison import CompareRequest

    folder = Path(case.folder)
    sides = []
    for files in (case.good, case.suspect):
        names = (files,) if isinstance(files, (str, Path)) else tuple(files)
        sides.append(read_captures([str(folder / name) for name in names]))
    return CompareRequest(
        sides[0],
        sides[1],
        read_sheet(str(folder / case.sheet)),
        clock=case.clock,
        edge=case.edge,
        family=case.family or "74",
        pins=read_pin_list(case.pins) if case.pins else None,
    )


def _taken_for(error: TwinslotError) -> str:
    """What may have been meant, where a probe sheet was given as a capture."""
    from tracecore.circuit.probe_sheet import begins_as_sheet
    from tracecore.errors import CaptureFileError, SheetError

    if isinstance(error, SheetError) or not isinstance(error, CaptureFileError) or not begins_as_sheet(error.path):
        return ""
    return " It begins as a probe sheet does; a sheet is given with --sheet."
