"""Commands that work on a case file without the window."""

from __future__ import annotations

import argparse
import sys
from pathlib import Path
from typing import TYPE_CHECKING, Any

from app.case.change import Change
from app.case.changes import (
    AddCaptures,
    NameCase,
    Put,
    SetClock,
    SetFamily,
    SetOffset,
    SetQualifier,
    SetSheet,
    SetUnit,
    Together,
)
from app.case.circuit_changes import AddReadings
from app.case.counted_readings import lacking, of_entry
from app.case.proof_words import lacks_for_verified
from app.case.record import SIDE_WORDS, SIDES, UNTITLED, OpenCase, next_id
from app.case.scratch import default_author
from app.case.setting_changes import SetBandwidth, SetSameFile, SetSameStart, SetSupply, SetTolerance
from app.case.shelf import Shelf
from app.case.store import CaseStore
from app.case.values import Entry, Figure, PartMove, Proof, Reading, StateStamp, Unit, now
from app.cli.attached_files import attached, name_changes, names_given, names_told, sheet_changes
from app.cli.case_file import keep, opened, read_case
from app.cli.circuit_files import circuit_changes, circuit_given
from app.cli.inputs import several_to_join
from app.cli.report_commands import card, report
from app.cli.settings_options import typed
from tracecore.errors import RequestError

if TYPE_CHECKING:
    from tracecore.settings import CompareSettings

DONE, NONE_FOUND = 0, 1


def open_case(arguments: argparse.Namespace) -> int:
    """Opens the window on the case, or makes it and says so where there is no display."""
    from app.cli.display import has_display
    from app.cli.terminal import say

    author = arguments.by or default_author()
    if has_display():
        from app.shell.run import run as open_window

        with opened(arguments.case, make=True, author=author) as store:
            _name(store, arguments, author)
        return int(open_window(case_file=arguments.case) or 0)
    with opened(arguments.case, make=True, author=author) as store:
        case = _name(store, arguments, author)
    say(f"{arguments.case}: {case.named}, {case.state}. No display here, so no window was opened.")
    return DONE


def _name(store: CaseStore, arguments: argparse.Namespace, author: str) -> OpenCase:
    """Keeps the title, number and units that were given."""
    case = read_case(store)
    if arguments.title or arguments.number:
        title = arguments.title or case.title
        case = keep(store, case, NameCase(title, arguments.number or case.number), author)
    for side, text in zip(SIDES, (arguments.good_unit, arguments.suspect_unit), strict=True):
        if text:
            parts = [part.strip() for part in text.split(",")]
            names = ("name", "slot", "serial", "note")
            if len(parts) > len(names):
                raise RequestError(f"{text!r}: found {len(parts)} parts; expected at most NAME, SLOT, SERIAL, NOTE.")
            unit = Unit(**dict(zip(names, parts, strict=False)))
            case = keep(store, case, SetUnit(side, unit), author)
    return case


def attach(arguments: argparse.Namespace) -> int:
    """Adds captures to one side of the case, or a probe sheet, or names the clock."""
    from app.cli.terminal import progress, say

    author = arguments.by or default_author()
    settings = typed(arguments)
    if not (arguments.files or arguments.sheet or settings or circuit_given(arguments) or names_given(arguments)):
        raise RequestError(
            "Nothing to attach: name captures (with --side), or give --sheet, --wires, --pins, --readings, --donors, "
            "or how to compare (--clock, --tolerance, ...)."
        )
    if arguments.files and not arguments.side:
        raise RequestError("Which side are these captures of? Add --side good or --side suspect.")
    several_to_join(arguments.join, arguments.files)
    with opened(arguments.case, make=arguments.new, author=author) as store, progress() as tell:
        case, shelf = read_case(store), Shelf(store)
        changes: list[Change] = []
        if arguments.files:
            changes.append(AddCaptures(arguments.side, attached(arguments, shelf, tell)))
        if arguments.sheet:
            from tracecore.circuit.probe_sheet import read_probe_sheet

            changes.append(SetSheet(read_probe_sheet(arguments.sheet)))
        changes += sheet_changes(arguments)
        changes += circuit_changes(arguments)
        changes += _changes_of(settings, case.settings)
        if arguments.match_names:
            changes += name_changes(Together("", tuple(changes)).applied(case))
        words = changes[0].words if len(changes) == 1 else "attach files"
        case = keep(store, case, Together(words, tuple(changes)), author)
        for held in case.captures:
            if shelf.wants_in(held, arguments.inside << 20):
                shelf.take_in(held, tell)
        files = (own for held in case.captures for own in held.files)
        outside = sum(not store.has_blob(own.sha256) for own in files)
    for side in SIDES:
        count = len(case.side(side).captures)
        say(f"{SIDE_WORDS[side]}: {count} capture{'s' if count != 1 else ''}")
    if outside:
        say(f"{outside} of them stay outside the case, known by hash (see --inside).")
    for sentence in names_told(case, arguments.match_names):
        say(sentence)
    return DONE


def _changes_of(settings: dict[str, Any], before: CompareSettings) -> list[Change]:
    """The changes that keep what was typed; the clock and what is left out come first, since they clear an offset."""
    changes: list[Change] = []
    if settings.keys() & {"clock", "edge"}:
        changes.append(SetClock(settings.get("clock", before.clock), settings.get("edge", before.edge)))
    if "qualifier" in settings:
        changes.append(SetQualifier(settings["qualifier"]))
    kinds = (
        ("family", SetFamily), ("offset", SetOffset), ("same_start", SetSameStart), ("tolerance_ps", SetTolerance),
        ("same_file", SetSameFile), ("supply_v", SetSupply), ("bandwidth_hz", SetBandwidth),
    )  # fmt: skip
    return [*changes, *(kind(settings[name]) for name, kind in kinds if name in settings)]


def enter(arguments: argparse.Namespace) -> int:
    """Writes a line into the log; what hangs on it is kept in the same transaction."""
    from app.cli.terminal import say

    author = arguments.by or default_author()
    with opened(arguments.case, author=author) as store:
        case = read_case(store)
        number = next_id(case.entries)
        changes: list[Change] = []
        pictures: list[int] = []
        for name in arguments.picture:
            from app.case.photos import take_photo

            photo = take_photo(name, store)
            pictures.append(next_id(case.pictures) + len(pictures))
            changes.append(Put(photo))
        entry = Entry(
            0,
            arguments.kind,
            arguments.text,
            author,
            now(),
            cycle=arguments.cycle,
            helped=None if arguments.helped is None else arguments.helped == "yes",
            corrects=_known(case, arguments.corrects),
            because=tuple(n for n in (_known(case, b) for b in arguments.because) if n is not None),
            pictures=tuple(pictures),
            figure=_figure(arguments),
            readings=tuple(_reading(text) for text in arguments.reading),
            proof=_proof(arguments.proof),
        )
        changes.insert(0, Put(entry))
        changes += [Put(_part(text, number, author)) for text in arguments.part]
        read = lacking(case.continuity, of_entry(entry))
        if read:
            changes.append(AddReadings(read))
        if arguments.state:
            _check_state(case, arguments.state, entry)
            changes.append(Put(StateStamp(0, arguments.state, now(), author)))
        keep(store, case, Together("log entry", tuple(changes)), author)
    say(f"{arguments.case}: entry {number}, {arguments.kind}")
    for own in read:
        say(f"Among the ohm readings now, so that the likely causes follow: {own.start} to {own.end}, {own.side}")
    return DONE


def _check_state(case: OpenCase, state: str, entry: Entry) -> None:
    lacks = lacks_for_verified(Put(entry).applied(case))
    if state == "verified" and lacks:
        raise RequestError(f"{lacks} On the command line: --proof 0/300.")


def _known(case: OpenCase, number: int | None) -> int | None:
    if number is not None and all(e.id != number for e in case.entries):
        raise RequestError(f"There is no entry {number} in the log; it has {len(case.entries)}. Name one of these.")
    return number


def _figure(arguments: argparse.Namespace) -> Figure | None:
    if not arguments.signal:
        return None
    if arguments.cycle is None:
        raise RequestError(f"The figure of {arguments.signal} needs a cycle. Add --cycle N.")
    return Figure(arguments.signal, arguments.cycle)


def _reading(text: str) -> Reading:
    parts = [part.strip() for part in text.split(",")]
    if len(parts) not in (3, 4):
        raise RequestError(f"Reading {text!r}: expected WHERE, GOOD, SUSPECT and perhaps UNIT, with commas between.")
    return Reading(parts[0], parts[1], parts[2], parts[3] if len(parts) == 4 else "ohm")


def _part(text: str, entry: int, author: str) -> PartMove:
    parts = [part.strip() for part in text.split(",")]
    if len(parts) not in (3, 4):
        raise RequestError(f"Part {text!r}: expected PART, FROM, TO and perhaps DATE CODE, with commas between.")
    code = parts[3] if len(parts) == 4 else ""
    return PartMove(0, parts[0], parts[1], parts[2], code, entry, now(), author)


def _proof(text: str | None) -> Proof | None:
    if text is None:
        return None
    diverging, slash, captures = text.partition("/")
    if not slash or not diverging.strip().isdecimal() or not captures.strip().isdecimal():
        raise RequestError(f"Proof {text!r}: expected DIVERGING/CAPTURES, as 0/300.")
    if not 0 <= int(diverging) <= int(captures) or int(captures) == 0:
        raise RequestError(f"Proof {text!r}: more captures diverge than there are. Give DIVERGING/CAPTURES, as 0/300.")
    return Proof(int(diverging), int(captures))


def earlier(arguments: argparse.Namespace) -> int:
    """Searches a folder of cases by words, slot, part and fault mode."""
    from app.case.seen_before import search_cases
    from app.cli.terminal import fit, progress, say

    if not (arguments.words or arguments.slot or arguments.part or arguments.mode):
        raise RequestError("Nothing to look for: give words, --slot, --part or --mode.")
    if not Path(arguments.folder).is_dir():
        raise RequestError(f"{arguments.folder}: is no folder. Name the folder that holds the cases.")
    with progress() as tell:
        found = search_cases(
            arguments.folder,
            " ".join(arguments.words),
            slot=arguments.slot,
            part=arguments.part,
            mode=arguments.mode,
            tell=tell,
        )
    for hit in found.hits:
        print(fit(f"{hit.path}: {hit.named} ({hit.opened_at[:10]}, {hit.state}): {'; '.join(hit.reasons)}", sys.stdout))
    for sentence in found.skipped:
        say(sentence)
    say(f"{len(found.hits)} of {found.looked} cases.")
    return DONE if found.hits else NONE_FOUND


def rescue(arguments: argparse.Namespace) -> int:
    """Makes a new case of what can be read in a damaged one."""
    from app.case.rescue import rescue as bring_back
    from app.cli.terminal import say

    found = bring_back(arguments.case, arguments.new, author=arguments.by or default_author())
    with opened(str(found.path), look_only=True) as store:
        case = read_case(store)
    name = "without a title" if case.title == UNTITLED else case.named
    say(
        f"{found.path}: {name}; {len(case.entries)} log entries, {len(case.marks)} marks, {found.captures} captures "
        f"and {found.pictures} pictures came back. The damaged file is as it was."
    )
    for sentence in found.lost:
        say(f"Lost: {sentence}.")
    return DONE


def show_log(arguments: argparse.Namespace) -> int:
    """Prints the log, the state and what the case holds."""
    from app.cli.log_text import log_text
    from app.cli.terminal import fit

    with opened(arguments.case, look_only=True) as store:
        case = read_case(store)
    for line in log_text(case):
        print(fit(line, sys.stdout))
    return DONE


COMMANDS = {
    "open": open_case,
    "attach": attach,
    "enter": enter,
    "log": show_log,
    "report": report,
    "card": card,
    "earlier": earlier,
    "rescue": rescue,
}
