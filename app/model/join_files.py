"""A scope and a logic capture of one run become one capture of the case: the shared signal is found, and told."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

from app.case.activity_thumbnail import shades
from app.case.changes import EditCapture
from app.case.record import Side
from app.case.side_names import as_read, named
from app.case.values import HeldCapture
from app.model.capture_files import read_one
from tracecore.errors import RequestError
from tracecore.readers.settings import ReadSettings

if TYPE_CHECKING:
    from app.model.case_files import CaseFiles
    from tracecore.capture import Capture
    from tracecore.circuit.probe_sheet import ProbeSheet
    from tracecore.lineup.one_run import Joined

Taken = tuple[HeldCapture, "Capture"]


def joined_held(one: Taken, other: Taken, sheet: ProbeSheet) -> tuple[HeldCapture, Taken, Joined]:
    """What the case keeps in place of ``one`` where ``other`` is of the same run: the joined capture, the scope's file
    with it. Raises RequestError, one sentence, where they are not one logic and one scope capture of one run."""
    from tracecore.lineup.one_run import find_join

    logic, scope = (one, other) if other[1].analog and not one[1].analog else (other, one)
    if logic[1].analog or not scope[1].analog:
        kinds = " and ".join("volts" if capture.analog else "logic" for _, capture in (one, other))
        raise RequestError(
            f"{one[0].name} holds {kinds.split(' and ')[0]}, {other[0].name} {kinds.split(' and ')[1]}; expected a "
            "logic capture and a scope capture of one run. Choose the other kind."
        )
    found = find_join(logic[1], scope[1], {c: sheet.probe(c).signal for c in (*logic[1].channels, *scope[1].channels)})
    plain = replace(scope[0], scope=None, through=())
    held = replace(
        logic[0],
        key=one[0].key,
        name=one[0].name,
        note=one[0].note,
        taken=one[0].taken,
        channels=found.capture.channels,
        resolution_ps=found.capture.resolution_ps,
        start_ps=found.capture.start_ps,
        stop_ps=found.capture.stop_ps,
        notes=found.capture.notes,
        facts=found.capture.facts,
        shades=shades(found.capture),
        scope=plain,
        through=found.channels,
    )
    return held, scope, found


def join_files(files: CaseFiles, side: Side, index: int, path: Path) -> None:
    """Reads a file and joins it with a capture of the case; what was found is told, and undo parts them again."""
    session = files.session
    before = session.case.side(side).captures[index]
    shelf, sheet = session.shelf, session.case.sheet

    def work(tell: Callable[[float, str], None]) -> tuple[HeldCapture, Taken, Taken, Joined]:
        tell(0.1, f"reading {path.name}")
        other = read_one(path, ReadSettings(), tell)
        tell(0.7, "looking for the signal that both hold")
        one = named(before, None, ()), shelf.load(as_read(before), tell)
        held, scope, found = joined_held(one, other, sheet)
        return held, scope, other, found

    def answer(answer: tuple[HeldCapture, Taken, Taken, Joined]) -> None:
        held, scope, other, found = answer
        for own, capture in (other, scope):
            session.shelf.add(own, capture)
        session.shelf.carry(held, found.capture)
        session.change(EditCapture(held))
        files.take_in()
        files.told.emit(found.sentence)

    files.jobs.request("read", work, answer, files.troubled.emit)
