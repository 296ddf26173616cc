"""Opening captures, sheets and cases, and keeping them: what takes long is a job, so that the window stays free."""

from __future__ import annotations

from collections.abc import Callable, Collection, Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from PySide6.QtCore import QObject, QTimer, Signal

from app.case.changes import AddCaptures, AddShown, Begin, ReplaceCapture, SetSheet, ShowCapture
from app.case.circuit_changes import SetWireList
from app.case.errors import CaptureAbsent, CaseError
from app.case.joined_files import strangers
from app.case.record import SIDE_WORDS, OpenCase, Side, SideState
from app.case.scratch import is_scratch, let_go, open_scratch
from app.case.shelf import LARGEST_INSIDE_BYTES
from app.case.side_changes import SetSideSheet
from app.case.store import CaseStore
from app.model.capture_files import Apart, Taken, Unsure, Wishes, in_place_of, read_all, read_one, sheets_among
from app.model.jobs import Jobs
from app.model.join_files import with_joined
from app.model.session import Session
from tracecore.errors import CaptureFileError, RequestError, TwinslotError
from tracecore.readers.settings import ReadSettings
from tracecore.settings import CompareSettings

if TYPE_CHECKING:
    from demo_traces import DemoCase


class CaseFiles(QObject):
    """``told`` carries a line for the bottom of the window, ``troubled`` one sentence that must be seen.

    ``apart`` carries files for a side that hold no signal in common (``Apart``), ``parts_met`` files of one run of
    which a person says how they are joined (``Parts``), ``outside`` the files that a case just opened names outside it,
    and that nobody has agreed to have read, ``agreed`` that some of them may be read now. ``show_answer`` is set by
    opening a whole case: the answer is shown then.
    """

    told = Signal(str)
    troubled = Signal(str)
    unsure = Signal(object)
    apart = Signal(object)
    parts_met = Signal(object)
    outside = Signal(object)
    agreed = Signal()

    def __init__(self, session: Session, jobs: Jobs, largest_inside_bytes: int = LARGEST_INSIDE_BYTES) -> None:
        super().__init__(jobs)
        self.session, self.jobs = session, jobs
        self.largest_inside_bytes = largest_inside_bytes
        self.show_answer = False
        self._half: dict[tuple[Path, ReadSettings], Taken] = {}
        self._queue: list[tuple[Side, list[Path], Wishes | None, int | None, str | None]] = []
        jobs.ended.connect(self._on_ended)

    # ---- captures

    def open_files(self, side: Side, paths: Sequence[str | Path]) -> None:
        """Takes files that came together: captures for a side, and the probe sheet if there is one among them."""
        sheets, captures = sheets_among(paths)
        if len(sheets) > 1:
            names = ", ".join(path.name for path in sheets)
            self.troubled.emit(
                f"{len(sheets)} probe sheets came together ({names}), and nobody can tell whose they are: none is "
                "taken. Open each with Open sheet, for both sides or for one."
            )
        elif sheets:
            self.open_sheet(sheets[0])
        self.open_captures(side, captures)

    def open_captures(
        self,
        side: Side,
        paths: Sequence[str | Path],
        wishes: Wishes | None = None,
        instead: int | None = None,
        joined_by: str | None = None,
    ) -> None:
        """Reads files for a side; where one cannot be taken none is, and ``unsure`` asks about it.

        Files that come while others are read wait for them. The same call with ``wishes`` goes on. ``instead`` is
        the place of a capture that the one file is to take the place of. ``joined_by`` is "trigger" or a signal where
        the files are parts of one run, empty where somebody said that each is a capture; ``apart`` asks where nobody
        said it, and they hold no signal in common.
        """
        wanted = [Path(p) for p in paths]
        if not wanted:
            return
        if self.jobs.busy("read"):
            self._queue.append((side, wanted, wishes, instead, joined_by))
            return

        case, shelf = self.session.case, self.session.shelf

        def work(tell: Callable[[float, str], None]) -> tuple[Taken, ...] | Unsure | Apart:
            at, found, before = wanted[0], {}, self._half
            self._half = {}
            try:
                for i, at in enumerate(wanted):
                    tell(i / len(wanted), f"reading {at.name}")
                    wish = (wishes or {}).get(at, ReadSettings())
                    found[at, wish] = before.get((at, wish)) or read_one(at, wish, tell)
            except CaptureFileError as error:
                # what was read need not be read again once the person has said what this one is
                self._half = found
                return Unsure(side, tuple(wanted), dict(wishes or {}), at, error, instead)
            taken = tuple(found.values())
            if joined_by is None and strangers([held for held, _ in taken]) is not None:
                self._half = found
                return Apart(side, tuple(wanted), dict(wishes or {}))
            old = None if instead is None else case.side(side).captures[instead]
            return with_joined(taken, joined_by or "", old, shelf, case.sheet, tell)

        def answer(found: tuple[Taken, ...] | Unsure | Apart) -> None:
            if isinstance(found, Unsure):
                self.unsure.emit(found)
                return
            if isinstance(found, Apart):
                self.apart.emit(found)
                return
            self._shelve(found)
            # files that were joined come first, and then the one capture that they make
            found = found[-1:] if found[-1][0].joining else found
            if instead is None:
                self.session.change(AddCaptures(side, tuple(held for held, _ in found)))
            else:
                before = self.session.case.side(side).captures[instead]
                self.session.change(ReplaceCapture(side, instead, in_place_of(before, found[0][0])))
            self.take_in()

        self.jobs.request("read", work, answer, self.troubled.emit)

    def open_shown(self, side: Side, path: str | Path) -> None:
        """Reads one file, adds it to a side and shows it; one of the same bytes that is there already is shown."""

        def work(tell: Callable[[float, str], None]) -> Taken:
            tell(0.1, f"reading {Path(path).name}")
            return read_one(Path(path), ReadSettings(), tell)

        def answer(found: Taken) -> None:
            held, _ = found
            there = [i for i, c in enumerate(self.session.case.side(side).captures) if c.sha256 == held.sha256]
            self._shelve((found,))
            self.session.change(ShowCapture(side, there[0]) if there else AddShown(side, held))
            self.take_in()

        self.jobs.request("read", work, answer, self.troubled.emit)

    def _on_ended(self, kind: str) -> None:
        if kind == "read" and self._queue:
            # the answer comes first
            QTimer.singleShot(0, self._read_next)

    def _read_next(self) -> None:
        if self._queue and not self.jobs.busy("read"):
            self.open_captures(*self._queue.pop(0))

    def forget_queue(self) -> None:
        """Files that wait for others to be read are not read."""
        self._queue = []

    def forget_half(self) -> None:
        """The form about a file that could not be taken was left: what was read beside it is let go."""
        self._half = {}

    def _shelve(self, found: Sequence[Taken]) -> None:
        for held, capture in found:
            self.session.shelf.add(held, capture)

    def take_in(self) -> None:
        """Puts the files of captures into the case, one after the other; an unnamed case only links them."""
        session = self.session
        if is_scratch(session.store):
            return
        waiting = [held for held in session.case.captures if session.shelf.wants_in(held, self.largest_inside_bytes)]
        if not waiting:
            return
        shelf = session.shelf

        def work(tell: Callable[[float, str], None]) -> tuple[str, ...]:
            trouble = []
            for held in waiting:
                try:
                    shelf.take_in(held, tell)
                except CaptureAbsent as error:
                    trouble.append(str(error))
            return tuple(trouble)

        def answer(trouble: tuple[str, ...]) -> None:
            for sentence in trouble:
                self.troubled.emit(sentence)
            count = len(waiting) - len(trouble)
            self.told.emit(f"{count} capture{' is' if count == 1 else 's are'} in the case now")

        self.jobs.request("keep", work, answer, self.troubled.emit)

    # ---- cases

    def open_file(self, path: str | Path) -> bool:
        """Opens a case file, or makes it; False where it cannot be, and ``troubled`` says why."""
        try:
            store = CaseStore.open(path, author=self.session.author)
        except CaseError as error:
            self.troubled.emit(str(error))
            return False
        try:
            self._open(store)
        except CaseError as error:
            store.close()
            self.troubled.emit(str(error))
            return False
        if store.read_only:
            self.troubled.emit(f"{path}: can be read only. Changes are not kept; copy it to a place you may write to.")
        return True

    def _open(self, store: CaseStore) -> None:
        # raises where it cannot be read, while the open case is still whole
        store.read()
        self.forget_queue()
        self.jobs.stop_all()
        before = self.session.store
        self.session.open(store)
        let_go(before)
        if self.session.store.trouble:
            lost = "; ".join(self.session.store.trouble)
            self.troubled.emit(f"{store.path}: {lost}. All else was read. Keep a copy before you go on.")
        self._ask_outside()

    def _ask_outside(self) -> None:
        asked = self.session.shelf.unagreed(self.session.case.captures)
        if asked:
            self.outside.emit(asked)

    def agree_to_outside(self, shown: Collection[Path]) -> None:
        """The person said yes to these files outside the case: they may be read from now on. Those that were not shown
        yet are asked for next."""
        self.session.shelf.agree(self.session.case.captures, shown)
        self.agreed.emit()
        self._ask_outside()

    def keep_as(self, path: str | Path) -> None:
        """The case goes on in a file of that name; an unnamed one is gone from its own place."""
        session, before = self.session, self.session.store
        target = Path(path)
        target = target if target.suffix else target.with_suffix(".twinslot")
        self.jobs.stop("keep")
        try:
            store = before.copy_to(target)
        except CaseError as error:
            self.troubled.emit(str(error))
            return
        if is_scratch(before) and before.path is not None:
            before.path.unlink(missing_ok=True)
        store.read()
        session.move_to(store)
        self.take_in()
        self.told.emit(f"Kept as {target}; every change from now on goes there by itself")

    def open_sheet(self, path: str | Path, side: Side | None = None) -> None:
        """Takes another probe sheet, for both sides or for one; where it cannot be taken a dialog says why."""
        from tracecore.circuit.probe_sheet import read_probe_sheet

        try:
            sheet = read_probe_sheet(path)
        except TwinslotError as error:
            self.troubled.emit(str(error))
            return
        self.session.change(SetSheet(sheet) if side is None else SetSideSheet(side, sheet))
        whose = "the probe sheet" if side is None else f"the probe sheet of the {SIDE_WORDS[side].lower()} side"
        self.told.emit(f"{Path(path).name} is {whose} now; Ctrl+Z takes it back")

    def open_wires(self, path: str | Path) -> None:
        """Ranks the likely causes with a wire list; where it cannot be taken a dialog says why."""
        from tracecore.circuit.wire_list import read_wire_list

        try:
            wires = read_wire_list(path)
        except TwinslotError as error:
            self.troubled.emit(str(error))
            return
        self.session.change(SetWireList(wires))
        self.told.emit(f"{Path(path).name} is the wire list now; Ctrl+Z takes it back")

    def open_case(
        self,
        good: Sequence[str | Path],
        suspect: Sequence[str | Path],
        sheet: str | Path | None = None,
        *,
        title: str = "",
        clock: str | None = None,
        edge: str = "rising",
        family: str = "74",
        pins: str | Path | None = None,
        readings: str | Path | None = None,
    ) -> None:
        """Reads both sides and the sheet into an unnamed case, then compares and shows Compare.

        Where a file cannot be taken as it is, the case begins without captures, and ``unsure`` asks about it.
        """

        def work(tell: Callable[[float, str], None]) -> tuple[OpenCase, tuple[Taken, ...]]:
            from tracecore.circuit.continuity.readings import ContinuityList, read_continuity
            from tracecore.circuit.pin_list import read_pin_list
            from tracecore.circuit.probe_sheet import ProbeSheet, read_probe_sheet

            taken: ProbeSheet = read_probe_sheet(sheet) if sheet else ProbeSheet()
            sides: list[tuple[Taken, ...]]
            try:
                sides = [read_all([Path(p) for p in paths], tell) for paths in (good, suspect)]
            except CaptureFileError:
                sides = [(), ()]
            states = [SideState(tuple(held for held, _ in side)) for side in sides]
            case = OpenCase(
                title or OpenCase().title,
                good=states[0],
                suspect=states[1],
                sheet=taken,
                settings=CompareSettings(clock=clock, edge=edge, family=family),  # type: ignore[arg-type]
                pins=read_pin_list(pins) if pins else None,
                continuity=read_continuity(readings) if readings else ContinuityList(),
            )
            return case, (*sides[0], *sides[1])

        def opened(found: tuple[OpenCase, tuple[Taken, ...]]) -> None:
            case, captures = found
            self.show_answer = bool(good and suspect)
            self._open(open_scratch(self.session.author))
            self._shelve(captures)
            self.session.change(Begin(case))
            if not captures:
                self.open_captures("good", good)
                self.open_captures("suspect", suspect)

        self.jobs.request("read", work, opened, self.troubled.emit)

    def open_demo(self, case: DemoCase) -> None:
        """Opens a demo case: its files, its sheet, its clock."""
        folder = Path(case.folder)
        sides = [[folder / n for n in ((f,) if isinstance(f, (str, Path)) else f)] for f in (case.good, case.suspect)]
        sheet = folder / case.sheet if case.sheet else None
        self.open_case(
            sides[0], sides[1], sheet, title=case.title, clock=case.clock, edge=case.edge,
            family=case.family or "74", pins=case.pins, readings=case.readings,
        )  # fmt: skip

    def save_sheet(self, path: str | Path) -> None:
        """Writes the sheet as CSV."""
        from app.output_file import write_text
        from tracecore.circuit.probe_sheet import write_probe_sheet

        try:
            write_text(path, write_probe_sheet(self.session.case.sheet.probes))
        except RequestError as error:
            self.troubled.emit(str(error))
            return
        except OSError as error:
            self.troubled.emit(f"{path}: cannot be written ({error.strerror or error}). Choose another place.")
            return
        self.told.emit(f"Saved: {path}")
