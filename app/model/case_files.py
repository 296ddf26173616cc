"""Reading, checking, comparing and writing for the open case: each a job, so that the window stays free."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from fractions import Fraction
from pathlib import Path
from typing import TYPE_CHECKING

from PySide6.QtCore import QObject, Signal

from app.model.bench import SIDES, AddCaptures, Bench, OpenAnother, OpenCase, SetSheet, Side, SideState
from app.model.capture_cards import capture_key
from app.model.jobs import Jobs
from tracecore.errors import AmbiguousCapture, MissingSampleRate, TwinslotError

if TYPE_CHECKING:
    from demo_traces import DemoCase
    from tracecore.capture import Capture
    from tracecore.measure.checkup import Checkup


@dataclass(frozen=True, slots=True)
class Wish:
    """What a person said about a file that does not say it itself."""

    sample_rate_hz: Fraction | None = None
    layout: str | None = None


Wishes = dict[Path, Wish]


@dataclass(frozen=True, slots=True)
class Unsure:
    """A file that needs a word from the person: ``candidates`` are layouts, or empty where the rate is lacking."""

    side: Side
    paths: tuple[Path, ...]
    wishes: Wishes
    path: Path
    sentence: str
    candidates: tuple[str, ...]

    def with_wish(self, wish: Wish) -> Wishes:
        """The wishes so far and this one, which keeps what was said of the same file before."""
        before = self.wishes.get(self.path, Wish())
        joined = Wish(wish.sample_rate_hz or before.sample_rate_hz, wish.layout or before.layout)
        return {**self.wishes, self.path: joined}


class CaseFiles(QObject):
    """``told`` carries a line for the bottom of the window, ``troubled`` one sentence that must be seen.

    ``show_answer`` is set by opening a whole case: the answer is then shown when it is there.
    """

    told = Signal(str)
    troubled = Signal(str)
    unsure = Signal(object)

    def __init__(self, bench: Bench, jobs: Jobs) -> None:
        super().__init__(jobs)
        self.bench, self.jobs = bench, jobs
        self.show_answer = False

    def check_all(self) -> None:
        """Checks each capture by itself, one after the other."""
        case = self.bench.case
        waiting = [c for side in SIDES for c in case.side(side).captures if capture_key(c) not in self.bench.checkups]
        if not waiting:
            return

        def work(tell: Callable[[float, str], None]) -> list[tuple[str, Checkup]]:
            from tracecore.measure.checkup import check

            found = []
            for i, capture in enumerate(waiting):
                tell(i / len(waiting), f"checking {capture.name}")
                found.append((capture_key(capture), check(capture, case.sheet, case.family)))
            return found

        self.jobs.request("check", work, self._on_checked, self.troubled.emit)

    def _on_checked(self, found: list[tuple[str, Checkup]]) -> None:
        for key, checkup in found:
            self.bench.checkups[key] = checkup
        self.bench.checked(*found[-1])

    def compare_again(self) -> None:
        """Compares the case as it stands."""
        if not self.bench.ready:
            return
        request, case = self.bench.request(), self.bench.case

        def work(tell: Callable[[float, str], None]) -> object:
            from tracecore.comparison import compare

            return compare(request, tell)

        self.jobs.request("compare", work, lambda found: self.bench.answered(case, found), self.bench.failed)

    def open_captures(self, side: Side, paths: Sequence[str | Path], wishes: Wishes | None = None) -> None:
        """Reads files for a side; where one cannot be taken none is, and ``troubled`` says why.

        A file that states no sample rate, or can be taken in two ways, is asked about by ``unsure``; the same call
        with ``wishes`` for it goes on.
        """
        wanted = [Path(p) for p in paths]
        if not wanted:
            return

        def work(tell: Callable[[float, str], None]) -> tuple[Capture, ...] | Unsure:
            try:
                return _read(wanted, tell, wishes)
            except (MissingSampleRate, AmbiguousCapture) as error:
                candidates = error.candidates if isinstance(error, AmbiguousCapture) else ()
                return Unsure(side, tuple(wanted), dict(wishes or {}), Path(error.path), str(error), candidates)

        def answer(found: tuple[Capture, ...] | Unsure) -> None:
            if isinstance(found, Unsure):
                self.unsure.emit(found)
            else:
                self.bench.change(AddCaptures(side, found))

        self.jobs.request("read", work, answer, self.troubled.emit)

    def open_sheet(self, path: str | Path) -> None:
        """Takes another probe sheet; where it cannot be taken a dialog says why."""
        from tracecore.circuit.probe_sheet import read_probe_sheet

        try:
            sheet = read_probe_sheet(path)
        except TwinslotError as error:
            self.troubled.emit(str(error))
            return
        self.bench.change(SetSheet(sheet))

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
    ) -> None:
        """Reads both sides and the sheet, then compares and shows Compare."""

        def work(tell: Callable[[float, str], None]) -> OpenCase:
            from tracecore.circuit.probe_sheet import ProbeSheet, read_probe_sheet

            taken: ProbeSheet = read_probe_sheet(sheet) if sheet else ProbeSheet()
            sides = [SideState(_read([Path(p) for p in paths], tell)) for paths in (good, suspect)]
            name = title or OpenCase().title
            return OpenCase(name, sides[0], sides[1], taken, clock, edge, None, family)  # type: ignore[arg-type]

        def opened(case: OpenCase) -> None:
            self.show_answer = bool(case.good.captures and case.suspect.captures)
            self.bench.change(OpenAnother(case))

        self.jobs.request("read", work, opened, self.troubled.emit)

    def open_demo(self, case: DemoCase) -> None:
        """Opens a demo case: its files, its sheet, its clock."""
        folder = Path(case.folder)
        sides = [[folder / n for n in ((f,) if isinstance(f, (str, Path)) else f)] for f in (case.good, case.suspect)]
        sheet = folder / case.sheet if case.sheet else None
        self.open_case(
            sides[0], sides[1], sheet, title=case.title, clock=case.clock, edge=case.edge, family=case.family or "74"
        )

    def save_sheet(self, path: str | Path) -> None:
        """Writes the sheet as CSV."""
        from tracecore.circuit.probe_sheet import write_probe_sheet

        try:
            Path(path).write_text(write_probe_sheet(self.bench.case.sheet.probes), "utf-8")
        except OSError as error:
            self.troubled.emit(f"{path}: cannot be written ({error.strerror or error}). Choose another place.")
            return
        self.told.emit(f"Saved: {path}")

    def write_report(self, folder: str | Path) -> None:
        """Writes the report in the background and says where it is."""
        comparison = self.bench.comparison

        def work(tell: Callable[[float, str], None]) -> tuple[Path, ...]:
            from datetime import date

            from app.report import write_report

            tell(0.1, "writing the report")
            assert comparison is not None
            return write_report(comparison, folder, printed=date.today().isoformat())

        self.jobs.request("report", work, lambda paths: self.told.emit(f"Written: {paths[0]}"), self.troubled.emit)


def _read(
    paths: Sequence[Path], tell: Callable[[float, str], None], wishes: Wishes | None = None
) -> tuple[Capture, ...]:
    from tracecore.readers import read_capture

    found = []
    for i, path in enumerate(paths):
        tell(i / len(paths), f"reading {path.name}")
        wish = (wishes or {}).get(path, Wish())
        found.append(read_capture(path, sample_rate=wish.sample_rate_hz, layout=wish.layout))
    return tuple(found)


def files_of(paths: Sequence[Path]) -> list[Path]:
    """Files as they are; of a folder the files right inside it."""
    found: list[Path] = []
    for path in paths:
        found += sorted(p for p in path.iterdir() if p.is_file()) if path.is_dir() else [path]
    return found
