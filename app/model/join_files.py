"""Files of one run become one capture of the case.

Of a scope and a logic capture the shared signal is found, and told. Of other files a person says whether they began
with the same trigger, or which signal each of them holds.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING

from app.case.changes import EditCapture
from app.case.joined_files import joined_files
from app.case.name_words import joined_words
from app.case.record import Side
from app.case.shelf import Shelf
from app.case.side_changes import JoinCaptures
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
Tell = Callable[[float, str], None]


def joined_held(one: Taken, other: Taken, sheet: ProbeSheet) -> tuple[HeldCapture, Taken, Joined]:
    """What the case keeps in place of ``one`` where ``other`` is of the same run: the joined capture, the scope's file
    with it. Raises RequestError, one sentence, where they are not one logic and one scope capture of one run."""
    # numpy is slow to import, and the first window waits for this module
    from app.case.activity_thumbnail import shades
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


@dataclass(frozen=True, slots=True)
class Parts:
    """Files that a person named as of one run, and that no signal of both joins by itself.

    ``taken`` are single files as read, those of the capture at ``places[0]`` first. ``signals`` are the logic signals
    that each of them holds.
    """

    side: Side
    places: tuple[int, ...]
    taken: tuple[Taken, ...]
    signals: tuple[str, ...]

    @property
    def names(self) -> str:
        """What the files are called."""
        return ", ".join(held.name for held, _ in self.taken)


def join_files(files: CaseFiles, side: Side, index: int, path: Path) -> None:
    """Reads a file and joins it with a capture of the case; what was found is told, and undo parts them again.

    Where no signal of both tells how, ``files.parts_met`` carries the Parts that a person is asked about.
    """
    session = files.session
    state = session.case.side(side)
    before = state.captures[index]
    shelf, sheet = session.shelf, session.case.sheet

    def work(tell: Callable[[float, str], None]) -> tuple[HeldCapture, Taken, Taken, Joined] | Parts:
        tell(0.1, f"reading {path.name}")
        other = read_one(path, ReadSettings(), tell)
        tell(0.7, "looking for the signal that both hold")
        one = named(before, None, ()), shelf.load(as_read(before), tell)
        if bool(one[1].analog) != bool(other[1].analog):
            try:
                held, scope, found = joined_held(one, other, sheet)
            except RequestError:
                if before.scope is not None:
                    raise
            else:
                return held, scope, other, found
        if before.scope is not None:
            raise RequestError(
                f"{before.name} is joined with a scope capture already. Undo that, join the other files, then the "
                "scope capture."
            )
        # the same file may stand on that side by itself
        there = tuple(i for i, held in enumerate(state.captures) if held.sha256 == other[0].sha256 and i != index)
        single = tuple((own, shelf.load(own, tell)) for own in as_read(before).files)
        return _parts(side, (index, *there), (*single, other))

    def answer(answer: tuple[HeldCapture, Taken, Taken, Joined] | Parts) -> None:
        if isinstance(answer, Parts):
            files.parts_met.emit(answer)
            return
        held, scope, other, found = answer
        for own, capture in (other, scope):
            session.shelf.add(own, capture)
        session.shelf.carry(held, found.capture)
        session.change(EditCapture(held))
        files.take_in()
        files.told.emit(found.sentence)

    files.jobs.request("read", work, answer, files.troubled.emit)


def _parts(side: Side, places: tuple[int, ...], taken: tuple[Taken, ...]) -> Parts:
    first = taken[0][1]
    shared = tuple(n for n in first.digital if all(n in capture.digital for _, capture in taken[1:]))
    return Parts(side, places, taken, shared)


def join_parts(files: CaseFiles, parts: Parts, how: str) -> None:
    """Joins them as was said: by "trigger", or a signal that each of them holds. Undo parts them again."""
    session = files.session

    def work(tell: Callable[[float, str], None]) -> Taken:
        tell(0.5, "putting the files on one time")
        return joined_files(parts.taken, how)

    def answer(found: Taken) -> None:
        held, capture = found
        before = session.case.side(parts.side).captures[parts.places[0]]
        held = replace(held, note=before.note, taken=before.taken)
        for own in parts.taken:
            session.shelf.add(*own)
        session.shelf.carry(held, capture)
        session.change(JoinCaptures(parts.side, parts.places, held))
        files.take_in()
        files.told.emit(f"Joined: {joined_words(held)}. Ctrl+Z parts them again")

    files.jobs.request("read", work, answer, files.troubled.emit)


def with_joined(
    taken: tuple[Taken, ...], how: str, before: HeldCapture | None, shelf: Shelf, sheet: ProbeSheet, tell: Tell
) -> tuple[Taken, ...]:
    """Files as read, and behind them the one capture that they make: joined by ``how`` where that is not empty, or,
    where they are the file of ``before`` read in another way, with the files that it was joined with.

    Raises RequestError where they cannot be joined.
    """
    if how:
        return (*taken, joined_files(taken, how))
    if before is None or not before.joining or before.sha256 != taken[0][0].sha256:
        return taken
    read = taken[0]
    if before.parts:
        rest = [(part, shelf.load(part, tell)) for part in before.parts]
        read = joined_files([read, *rest], before.parts_by)
    if before.scope is not None:
        held, _, found = joined_held(read, (before.scope, shelf.load(before.scope, tell)), sheet)
        read = held, found.capture
    return (*taken, read)
