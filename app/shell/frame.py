"""What the actions know of the window: its parts and what it can be asked, without knowing the window itself."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from PySide6.QtWidgets import QMainWindow, QStackedWidget, QVBoxLayout

if TYPE_CHECKING:
    from app.model.answers import Answers
    from app.model.case_files import CaseFiles
    from app.model.jobs import Jobs
    from app.model.report_files import ReportFiles
    from app.model.session import Session
    from app.model.settings import Settings
    from app.pages.page import Page, PageContext
    from app.widgets.frame.bottom_line import BottomLine
    from app.widgets.frame.caution_strip import CautionStrip


class Frame(QMainWindow):
    """The window as its actions see it; ``Window`` is the one that there is."""

    settings: Settings
    session: Session
    jobs: Jobs
    files: CaseFiles
    answers: Answers
    reports: ReportFiles
    context: PageContext
    pages: dict[str, Page]
    current: str
    stack: QStackedWidget
    foot: QVBoxLayout
    bottom: BottomLine
    caution: CautionStrip

    def say(self, text: str) -> None:
        """The line at the bottom."""
        raise NotImplementedError

    def trouble(self, sentence: str) -> None:
        """One sentence that must be seen."""
        raise NotImplementedError

    def sign(self, initials: str) -> None:
        """Entries, marks and changes are signed with these from now on."""
        raise NotImplementedError

    def show_written(self, path: Path) -> None:
        """Says where a file is, and offers to open or print it."""
        raise NotImplementedError

    def print_pdf(self, path: Path) -> None:
        """Asks for a printer and prints a PDF."""
        raise NotImplementedError

    def open_file(self, path: str | Path) -> None:
        """Opens a case file, or makes it."""
        raise NotImplementedError

    def open_demo(self, name: str) -> None:
        """Opens a demo case by its name."""
        raise NotImplementedError

    def show_page(self, name: str) -> None:
        """Opens a page."""
        raise NotImplementedError

    def apply_look(self) -> None:
        """Puts theme and text size on everything."""
        raise NotImplementedError
