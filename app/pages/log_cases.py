"""Earlier cases for the Log page: looked for beside the open case and in a chosen folder, off the GUI thread."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING

from PySide6.QtCore import QObject, QTimer
from PySide6.QtWidgets import QFileDialog

from app.case.scratch import is_scratch
from app.case.seen_before import Hits, Seen, search_cases, seen_before
from app.widgets.log.log_panel import LogPanel, folder_words

if TYPE_CHECKING:
    from app.model.jobs import Jobs
    from app.model.settings import Settings
    from app.pages.log import LogPage


class EarlierCases(QObject):
    """Fills the panel's part "Seen before"; a question that was answered is not asked again."""

    def __init__(self, page: LogPage, jobs: Jobs, settings: Settings, panel: LogPanel) -> None:
        super().__init__(page)
        self.page, self._jobs, self._settings, self.panel = page, jobs, settings, panel
        self._asked: object = None
        self._soon = QTimer(self, singleShot=True, interval=300)
        self._soon.timeout.connect(self.look)

    def look_soon(self) -> None:
        """Looks once no change has come for a moment."""
        self._soon.start()

    def forget(self) -> None:
        """The next look asks in any case."""
        self._asked = None

    @property
    def _folders(self) -> list[Path]:
        """Where earlier cases are looked for: beside this one, and in the chosen folder."""
        store = self.page.context.session.store
        own = [] if is_scratch(store) or store.path is None else [store.path.absolute().parent]
        chosen = self._settings.cases_folder
        return list(dict.fromkeys([*own, *([Path(chosen)] if chosen else [])]))

    def ask_folder(self) -> None:
        """Asks for a folder in which earlier cases are looked for too."""
        folder = QFileDialog.getExistingDirectory(self.page, "A folder of cases", self._settings.cases_folder)
        if folder:
            self._settings.cases_folder = folder
            self._settings.save()
            self._asked = None
            self.look()

    def look(self) -> None:
        """Looks for cases alike, where the page is seen and anything changed since the last look."""
        session, folders = self.page.context.session, self._folders
        case = session.case
        question = (
            case.title,
            case.entries,
            case.parts,
            case.unlike,
            case.question,
            session.comparison is None,
            folders,
        )
        if not self.page.isVisible() or self.panel.search.text() or question == self._asked:
            return
        self._asked = question
        if not folders:
            self.panel.show_no_folder()
            return
        store = session.store

        def work(tell: Callable[[float, str], None]) -> Seen:
            answers = store.comparisons()
            return seen_before(case, answers[-1].record if answers else "", folders, store.path, tell)

        where = folder_words(folders)
        self._jobs.request("seen", work, lambda seen: self.panel.show_seen(seen, where), self.page.troubled.emit)

    def search(self, words: str) -> None:
        """Shows the cases in which all the words stand; without words those that are alike."""
        folders = self._folders
        if not words or not folders:
            self._asked = None
            self.look()
            return
        where, own = folder_words(folders), self.page.context.session.store.path

        def work(tell: Callable[[float, str], None]) -> Hits:
            found = [search_cases(folder, words, own=own, tell=tell) for folder in folders]
            return Hits(
                tuple(hit for hits in found for hit in hits.hits),
                sum(hits.looked for hits in found),
                tuple(sentence for hits in found for sentence in hits.skipped),
            )

        self._jobs.request("seen", work, lambda hits: self.panel.show_hits(hits, where), self.page.troubled.emit)
