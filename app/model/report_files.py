"""What goes out of a case: reports, their preview, bench cards; each a job, so that the window stays free."""

from __future__ import annotations

import threading
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from PySide6.QtCore import QObject, Signal
from PySide6.QtGui import QImage

from app.case.changes import Put
from app.case.photos import photo_bytes
from app.case.values import BenchCard, now
from app.model.jobs import Jobs
from app.model.session import Session

if TYPE_CHECKING:
    from app.report.blocks import Report
    from tracecore.compare.findings import Cause

Tell = Callable[[float, str], None]


class ReportFiles(QObject):
    """``told`` carries a line for the bottom of the window, ``troubled`` one sentence that must be seen,
    ``written`` the path of what was written."""

    told = Signal(str)
    troubled = Signal(str)
    written = Signal(object)

    def __init__(self, session: Session, jobs: Jobs) -> None:
        super().__init__(jobs)
        self.session, self.jobs = session, jobs

    def preview_report(
        self,
        sections: Sequence[str],
        page: str,
        dots_per_inch: int,
        answer: Callable[[tuple[QImage, ...]], None],
        failed: Callable[[str], None],
    ) -> None:
        """The report's pages as pictures, as they would print."""
        build = self._builder(sections)

        def work(tell: Tell) -> tuple[QImage, ...]:
            from app.report.pdf import report_pdf

            return page_pictures(report_pdf(build(), page=page), dots_per_inch, tell)

        self.jobs.request("preview", work, answer, failed)

    def write_report(self, folder: str | Path, sections: Sequence[str] | None = None, page: str = "A4") -> None:
        """Writes the report into a folder of its own and says where it is."""
        session, case, saved = self.session, self.session.case, self._saved()
        comparison = session.comparison if session.current else None
        store = session.store

        def work(tell: Tell) -> tuple[Path, ...]:
            from app.report import write_report

            tell(0.1, "writing the report")
            return write_report(
                comparison,
                folder,
                case=case,
                photos=lambda stored: photo_bytes(store, stored),
                saved=saved,
                sections=sections,
                page=page,
                printed=_today(),
            )

        self._write(work)

    def write_pdf(self, path: str | Path, sections: Sequence[str], page: str) -> None:
        """Writes the report's PDF alone."""
        build = self._builder(sections)

        def work(tell: Tell) -> tuple[Path, ...]:
            from app.report import write_pdf

            tell(0.1, "writing the report")
            return (write_pdf(build(), path, page=page),)

        self._write(work)

    def write_pair(self, path: str | Path) -> None:
        """Writes both sides of the comparison on one time."""
        comparison = self.session.comparison

        def work(tell: Tell) -> tuple[Path, ...]:
            from app.report.lined_up import write_lined_up

            tell(0.1, "writing both sides")
            assert comparison is not None
            return (write_lined_up(comparison, path),)

        self._write(work)

    def _write(self, work: Callable[[Tell], tuple[Path, ...]]) -> None:
        self.jobs.request("report", work, lambda paths: self.written.emit(paths[0]), self.troubled.emit)

    def _saved(self) -> dict[str, object] | None:
        """The record of the last comparison that was kept."""
        kept = self.session.store.comparisons()
        from app.report.kept_record import kept_record

        return kept_record(kept[-1].record) if kept else None

    def _builder(self, sections: Sequence[str] | None) -> Callable[[], Report]:
        """Builds the report of the case as it is now, whenever it is called."""
        session, case, saved = self.session, self.session.case, self._saved()
        comparison, store = session.comparison if session.current else None, session.store

        def build() -> Report:
            from app.report.contents import build_report

            return build_report(
                comparison, case, lambda stored: photo_bytes(store, stored), saved, sections=sections, printed=_today()
            )

        return build

    def write_card(self, cause: Cause, path: str | Path) -> None:
        """Makes a bench card of a likely cause, keeps it in the case and writes it as PDF."""
        session, comparison, case = self.session, self.session.comparison, self.session.case
        if comparison is None:
            return

        def work(tell: Tell) -> tuple[BenchCard, Path]:
            from datetime import datetime

            from app.case.card_rows import card_for
            from app.output_file import write_bytes
            from app.report.bench_card import card_pdf

            tell(0.1, "writing the bench card")
            card = card_for(case, comparison, cause, at=now(), author=session.author)
            moment = datetime.now().strftime("%Y-%m-%d %H:%M")
            return card, write_bytes(path, card_pdf(card, case, comparison, printed=moment, author=session.author))

        def answer(found: tuple[BenchCard, Path]) -> None:
            card, written = found
            if session.change(Put(card)):
                self.written.emit(written)
                self.told.emit(f"Written: {written}; what was read is entered with Case, Fill a bench card…")

        self.jobs.request("card", work, answer, self.troubled.emit)


_ONE_AT_A_TIME = threading.Lock()
"""PDFium is not safe in two threads at once (its README: "not thread-safe"); a second preview waits for the first."""


def page_pictures(pdf: bytes, dots_per_inch: int, tell: Tell = lambda share, words: None) -> tuple[QImage, ...]:
    """Each page of a PDF as a picture. ``tell`` is called between pages and may raise to stop."""
    with _ONE_AT_A_TIME:
        return _pictures(pdf, dots_per_inch, tell)


def _pictures(pdf: bytes, dots_per_inch: int, tell: Tell) -> tuple[QImage, ...]:
    import pypdfium2

    document = pypdfium2.PdfDocument(pdf)
    try:
        pictures: list[QImage] = []
        for page in document:
            tell(len(pictures) / len(document), "drawing the pages")
            bitmap = page.render(scale=dots_per_inch / 72, rev_byteorder=True, prefer_bgrx=True)
            size = bitmap.width, bitmap.height
            # the copy owns its bytes: the bitmap's go with the document
            pictures.append(QImage(bytes(bitmap.buffer), *size, bitmap.stride, QImage.Format.Format_RGBX8888).copy())
        return tuple(pictures)
    finally:
        document.close()


def _today() -> str:
    from datetime import date

    return date.today().isoformat()
