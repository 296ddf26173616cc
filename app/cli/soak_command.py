"""``twinslot soak``: a folder watched for hours, each capture compared with the known-good ones as it lands."""

from __future__ import annotations

import argparse
import signal
import sys
import threading
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from typing import TYPE_CHECKING

from app.cli.inputs import read_sheet, watched_side
from app.cli.settings_options import reading_of_case, reading_typed, settings_of_case, settings_typed
from tracecore.errors import RequestError
from tracecore.outcome import EXIT_STATUS

if TYPE_CHECKING:
    from app.soak.record import Record
    from app.soak.soak import News, Soak
    from tracecore.capture import Capture
    from tracecore.capture_series import Reference
    from tracecore.readers.settings import ReadSettings


def soak(arguments: argparse.Namespace) -> int:
    """Watches until it is stopped; status 1 where any capture diverges, else 2 where it cannot be told of any, or none
    was compared."""
    from app.cli.terminal import fit, say
    from app.report.cautions import UNATTENDED
    from app.soak.folder_watch import FolderWatch
    from app.soak.record import Record, against_what
    from app.soak.soak import LARGEST_BYTES, Soak, run_soak

    if arguments.largest is not None and arguments.largest <= 0:
        raise RequestError(f"--largest {arguments.largest}: found no size; expected more than 0 MB.")
    settle_s = max(0.0, arguments.settle)
    watch = FolderWatch(
        arguments.folder, old=not arguments.new_only, settle_s=settle_s, leave=filter(None, [arguments.out])
    )
    against, reading, named, called = _reference(arguments)
    for told in against.notices:
        say(told.sentence)
    running = Soak(against, reading, LARGEST_BYTES if arguments.largest is None else arguments.largest << 20, named)
    record = None if arguments.out is None else Record(arguments.out, against_what(against, reading, called))
    if record is not None and record.kept:
        watch.know({row.name: (row.size_bytes, row.modified_ns) for row in record.kept})
        running.resume(record, watch.folder)
        say(f"{record.path}: the counts of an earlier watch go on: {running.count.words}.")
    if record is not None and record.cut_off:
        say(f"{record.path}: its last row was cut off. It is taken out, and that capture is read again.")
    say(f"Watching {arguments.folder} against {against.board.capture.name}; Ctrl+C ends and sums up.")
    say(UNATTENDED)

    def tell(news: News) -> None:
        if record is not None:
            _keep(record, news)
        if news.status != "agrees" or arguments.all:
            print(fit(f"{news.at}  {news.words}  ({running.count.words})", sys.stdout), flush=True)

    stop = threading.Event()
    with _ended_by_signal(stop, watch.wake):
        seconds = None if arguments.stop_after is None else float(arguments.stop_after) / 1e12
        run_soak(running, watch, tell, stop, arguments.captures, seconds)
    if record is not None:
        _close(record)
    for line in summary(running):
        print(fit(line, sys.stdout))
    if arguments.case:
        say(_enter(arguments, running))
    if running.count.diverges:
        return EXIT_STATUS["diverges"]
    # what was left uncompared may be what fails, and nothing compared clears nothing
    clear = running.table.captures and not running.table.uncounted and not running.count.broken
    return EXIT_STATUS["agrees" if clear else "cannot tell"]


def summary(soak: Soak) -> Iterator[str]:
    """The counts, what they prove, and each signal that diverged with its interval."""
    yield soak.count.words + "."
    table = soak.table
    if not table.captures:
        return
    yield from soak.sentences
    for row in table.rows():
        if row.share.diverging:
            yield f"  {row.signal}: {row.share.sentence}"


@contextmanager
def _ended_by_signal(stop: threading.Event, wake: object) -> Iterator[None]:
    """Ctrl+C, or a polite kill, ends the watch instead of the program, so that the sum is printed."""

    def end(_number: int, _frame: object) -> None:
        stop.set()
        wake()  # type: ignore[operator]

    before = {number: signal.signal(number, end) for number in (signal.SIGINT, signal.SIGTERM)}
    try:
        yield
    finally:
        for number, handler in before.items():
            signal.signal(number, handler)


def _reference(arguments: argparse.Namespace) -> tuple[Reference, ReadSettings, Callable[[Capture], Capture], str]:
    """The known-good side, the files that were named or those of the case, how to read what lands, what gives it the
    known-good names, and a text of those names that are none of its own."""
    from app.case.errors import CaseError
    from app.case.landed_names import naming
    from app.case.read_settings import read_settings_of
    from app.case.shelf import Shelf
    from app.case.store import CaseStore
    from app.cli.terminal import progress
    from tracecore.capture_series import SeriesRequest, reference

    if bool(arguments.good) == bool(arguments.case):
        raise RequestError("Against what? Name known-good captures with --good, or a case that has some with --case.")
    if arguments.offset is not None:
        raise RequestError("--offset holds for one capture only; expected none, since each is lined up by itself.")
    for name in ("sheet", "good_sheet", "suspect_sheet", "join", "match_names") if arguments.case else ():
        if getattr(arguments, name):
            option = f"--{name.replace('_', '-')}"
            raise RequestError(f"{option} beside --case: {arguments.case} says it itself. Leave the option out.")
    reading = reading_typed(arguments)
    if not arguments.case:
        good, sheet, named = watched_side(arguments, read_sheet(arguments.sheet))
        own = read_sheet(arguments.suspect_sheet).probes
        called = repr((own, arguments.match_names)) if own or arguments.match_names else ""
        return reference(SeriesRequest(good, sheet, **settings_typed(arguments).named)), reading, named, called
    with progress() as tell:
        store = CaseStore.open(arguments.case, make=False, look_only=True)
        try:
            case = store.read()
            if case.unread:
                # counts against a part of the case, or without its settings, would clear what they should not
                raise CaseError(
                    f"{arguments.case}: {case.unread[0]}, so nothing is watched against it. "
                    f"Bring back what can be read: twinslot rescue {arguments.case} NEW.twinslot"
                )
            settings = settings_of_case(arguments, case.settings, arguments.case)
            if case.good.shown_capture is not None:
                reading = reading_of_case(reading, read_settings_of(case.good.shown_capture), arguments.case)
            shelf = Shelf(store)
            if arguments.linked:
                shelf.agree(case.captures)
            good = tuple(shelf.load(held, tell) for held in case.good.shown_first)
        finally:
            store.close()
        request = SeriesRequest(good, case.sheet, **settings.named)

        sheet_of_side, same = case.suspect.sheet, case.suspect.same
        called = repr((sheet_of_side and sheet_of_side.probes, same)) if sheet_of_side or same else ""
        return reference(request), reading, naming(case.suspect, good[0].channels), called


def _keep(record: Record, news: News) -> None:
    """A row in the record. One that cannot be written waits; that is told once, and so is that it is written again."""
    from app.cli.terminal import say

    before = record.waiting
    try:
        record.add(news)
    except OSError as error:
        if not before:
            say(f"{record.path}: a row could not be written ({error.strerror or error}). It waits; the watch goes on.")
        return
    if before:
        say(f"{record.path}: rows can be written again; {before} had waited.")


def _close(record: Record) -> None:
    """The rows that wait are written, or it is told how many are lacking."""
    from app.cli.terminal import say

    try:
        record.write()
    except OSError as error:
        lacking = record.waiting
        say(f"{record.path}: {lacking} row{'' if lacking == 1 else 's'} lacking ({error.strerror or error}).")
    record.close()


def _enter(arguments: argparse.Namespace, soak: Soak) -> str:
    """A line in the case's log with the numbers."""
    from app.case.changes import Put
    from app.case.proof_words import helped
    from app.case.scratch import default_author
    from app.case.store import CaseStore
    from app.case.values import Entry, Proof, now

    if not soak.table.captures:
        return "Nothing was compared, so nothing was written in the log."
    author = arguments.by or default_author()
    text = soak.table.proof().sentence
    proof = Proof(soak.table.diverging, soak.table.captures, uncounted=soak.table.uncounted)
    entry = Entry(0, "result", text, author, now(), helped=helped(proof), proof=proof)
    store = CaseStore.open(arguments.case, make=False)
    try:
        case = Put(entry).applied(store.read())
        store.keep("log entry", author, case)
        return f"{arguments.case}: entry {case.entries[-1].id}: {text}"
    finally:
        store.close()
