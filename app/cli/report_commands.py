"""Commands that compare a case as it stands: its report, and a bench card. What they compared is kept in the case."""

from __future__ import annotations

import argparse
from pathlib import Path
from typing import TYPE_CHECKING, Any

from app.case.changes import Put
from app.case.scratch import default_author
from app.case.shelf import Shelf
from app.case.values import now
from app.cli.case_file import keep, opened, read_case
from tracecore.errors import RequestError

if TYPE_CHECKING:
    from app.case.record import OpenCase
    from app.case.store import CaseStore
    from tracecore.comparison import Comparison

DONE, TROUBLE = 0, 2


def report(arguments: argparse.Namespace) -> int:
    """Compares the case as it stands and writes its report."""
    from datetime import date

    from app.case.photos import photo_bytes
    from app.cli.terminal import progress, say
    from app.report import write_report
    from app.report.folder import check_folder
    from app.report.kept_record import kept_record

    folder = Path(arguments.out or f"{Path(arguments.case).stem}-report")
    check_folder(folder)
    with opened(arguments.case) as store:
        case = read_case(store)
        with progress() as tell:
            comparison = _comparison(case, store, _shelf(store, case, arguments.linked), tell)
        kept = store.comparisons()
        written = write_report(
            comparison,
            folder,
            case=case,
            photos=lambda stored: photo_bytes(store, stored),
            saved=kept_record(kept[-1].record) if kept else None,
            sections=tuple(arguments.sections.split(",")) if arguments.sections else None,
            page=arguments.page,
            printed=date.today().isoformat(),
        )
    for path in written:
        say(f"Written: {path}")
    return TROUBLE if case.unread else DONE


def _shelf(store: CaseStore, case: OpenCase, linked: bool) -> Shelf:
    """The captures of the case; with ``linked`` the person says yes to the files that it names outside it."""
    shelf = Shelf(store)
    if linked:
        shelf.agree(case.captures)
    return shelf


def _comparison(case: OpenCase, store: CaseStore, shelf: Shelf, tell: Any) -> Comparison | None:
    """The comparison of the case as it stands, which is kept; None, and a sentence, where captures are lacking."""
    from app.case.errors import CaptureAbsent
    from app.case.request import case_request
    from app.cli.terminal import say
    from app.report.cause_readings import with_case_readings
    from app.report.kept_record import keep_record
    from tracecore.comparison import compare

    if not case.good.captures or not case.suspect.captures:
        say("A side has no capture, so the report has the log and no comparison.")
        return None
    try:
        found = compare(case_request(case, shelf, tell), tell)
        keep_record(store, case, found)
        return with_case_readings(found, case)
    except CaptureAbsent as error:
        say(f"{error} The report has what was kept of the last comparison.")
        return None


def card(arguments: argparse.Namespace) -> int:
    """Writes a bench card of a likely cause as PDF, and keeps it in the case under its number."""
    from datetime import datetime

    from app.case.card_rows import card_for
    from app.cli.terminal import progress, say
    from app.output_file import write_bytes
    from app.report.bench_card import card_pdf

    author = arguments.by or default_author()
    with opened(arguments.case, author=author) as store:
        case = read_case(store)
        with progress() as tell:
            comparison = _comparison(case, store, _shelf(store, case, arguments.linked), tell)
        causes = comparison.causes if comparison else ()
        chosen = [c for c in causes if arguments.signal in (None, c.signal)]
        if comparison is None or not chosen:
            names = ", ".join(c.signal for c in causes) or "none"
            raise RequestError(
                f"{arguments.case}: no likely cause {arguments.signal or ''} to make a card of; there is: {names}."
            )
        made = card_for(case, comparison, chosen[0], at=now(), author=author)
        case = keep(store, case, Put(made), author)
        made = case.cards[-1]
        moment = datetime.now().strftime("%Y-%m-%d %H:%M")
        data = card_pdf(made, case, comparison, page=arguments.page, printed=moment, author=author)
        path = write_bytes(Path(arguments.out or f"bench-card-{made.number}.pdf"), data)
    say(f"Written: {path}. Type {made.number} in the Log to enter what was read.")
    return DONE
