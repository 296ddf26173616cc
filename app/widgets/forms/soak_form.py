"""A folder is watched: how many captures landed, how many diverge, which signal first; each can be looked at."""

from __future__ import annotations

from pathlib import Path
from typing import Literal

from PySide6.QtCore import Signal
from PySide6.QtGui import QCloseEvent
from PySide6.QtWidgets import (
    QApplication,
    QCheckBox,
    QDialog,
    QFileDialog,
    QHBoxLayout,
    QListWidget,
    QListWidgetItem,
    QPushButton,
    QVBoxLayout,
    QWidget,
)

from app.model.session import Session
from app.model.soak_watch import SoakWatch
from app.model.theme import Theme
from app.report.cautions import UNATTENDED
from app.soak.soak import News
from app.widgets.captures.capture_strip import CaptureCell, CaptureStrip
from app.widgets.controls.elided_label import ElidedLabel
from app.widgets.controls.forms import fit
from app.widgets.controls.label import label
from app.widgets.controls.scrolled_column import AsHighAsItsWidthAsks, scrolled_column
from app.widgets.controls.tip import set_tip
from tracecore.errors import RequestError

MOST_LINES = 200
CELL_KINDS: dict[str, Literal["agrees", "diverges"]] = {"agrees": "agrees", "diverges": "diverges"}


class SoakForm(QDialog):
    """``captureWanted`` carries the path of a capture to take into the case, ``said`` a line for the window.
    ``counted`` tells that the count is another one, or that the form was closed."""

    captureWanted = Signal(object)
    said = Signal(str)
    counted = Signal()

    def __init__(self, session: Session, theme: Theme, scale: float, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._session = session
        self.watch = SoakWatch(session, self)
        self.watch.landed.connect(self._on_landed)
        self.watch.ended.connect(self._on_ended)
        self.setWindowTitle("Watch a folder")
        self._chosen: News | None = None
        down = QVBoxLayout(self)
        down.setContentsMargins(20, 16, 20, 16)
        down.setSpacing(10)
        down.addLayout(self._head())
        caution = label(UNATTENDED, "muted")
        caution.setWordWrap(True)
        down.addWidget(caution)
        inside = AsHighAsItsWidthAsks()
        told = QVBoxLayout(inside)
        told.setContentsMargins(0, 0, 0, 0)
        told.setSpacing(10)
        self.count = label("Nothing watched yet", "heading")
        told.addWidget(self.count)
        self.verdict = label(
            "Each capture that lands in the folder is compared with the known-good ones of the case when it is "
            "complete. Three known-good captures or more teach what varies on a sound board. The counts last "
            "as long as this window; Write in log keeps them.",
            "muted",
        )
        told.addWidget(self.verdict)
        self.strip = CaptureStrip(theme)
        self.strip.setAccessibleName("Captures of the soak")
        self.strip.wanted.connect(lambda number: self._choose(self.watch.news[number]))
        told.addWidget(self.strip)
        self.list = QListWidget()
        self.list.setAccessibleName("Captures that did not agree, latest first")
        self.list.setWordWrap(True)
        self.list.currentItemChanged.connect(lambda now, _before: self._on_item(now))
        told.addWidget(self.list, 1)
        area = scrolled_column(inside)
        area.viewport().setAutoFillBackground(False)
        inside.setAutoFillBackground(False)
        down.addWidget(area, 1)
        down.addLayout(self._foot())
        self.set_scale(scale)
        self._choose(None)
        self._refresh()

    def set_scale(self, scale: float) -> None:
        """Takes the size that goes with the size of the text."""
        fit(self, round(860 * scale), round(560 * scale))

    def _head(self) -> QVBoxLayout:
        """The folder in a line of its own, so that large text leaves it room."""
        head = QVBoxLayout()
        head.setSpacing(8)
        row = QHBoxLayout()
        row.setSpacing(10)
        self.folder = ""
        self.place = ElidedLabel("No folder chosen", "strong")
        row.addWidget(self.place, 1)
        self.chooser = self._button(row, "Choose a folder…", self._ask)
        self.starter = self._button(row, "Start", self.toggle, decision=True)
        head.addLayout(row)
        self.old = QCheckBox("Also what is there already")
        self.old.setChecked(True)
        head.addWidget(self.old)
        return head

    def _foot(self) -> QHBoxLayout:
        row = QHBoxLayout()
        row.setSpacing(10)
        self.taker = self._button(row, "Take into the case", self._take)
        self.taker.setToolTip("Adds the chosen capture to the suspect side and shows it")
        self.writer = self._button(row, "Write in log", self._write)
        self.writer.setToolTip(
            "A result with its numbers: how many of how many diverge, and what that proves. "
            "twinslot soak with --out keeps a record of each file"
        )
        row.addStretch(1)
        self.closer = self._button(row, "Close", self.reject)
        set_tip(self.closer, "Closes the form; a watch that runs goes on")
        return row

    def _button(self, row: QHBoxLayout, text: str, does: object, decision: bool = False) -> QPushButton:
        made = QPushButton(text)
        made.setProperty("role", "decision" if decision else "")
        made.setAutoDefault(False)
        made.clicked.connect(lambda: does())  # type: ignore[operator]
        row.addWidget(made)
        return made

    # ---- starting and stopping

    def _ask(self) -> None:
        folder = QFileDialog.getExistingDirectory(self, "Folder in which the captures land", self.folder)
        if folder:
            self.set_folder(folder)

    def set_folder(self, folder: str | Path) -> None:
        """The folder to watch."""
        self.folder = str(folder)
        self.place.setText(self.folder)
        self._refresh()

    def toggle(self) -> None:
        """Starts the watch, or ends it."""
        if self.watch.running:
            self.watch.ask_to_stop()
            self._refresh()
            return
        self.list.clear()
        self._choose(None)
        try:
            self.watch.start(self.folder, old=self.old.isChecked())
        except RequestError as error:
            self.verdict.setText(str(error))
            return
        self.verdict.setText("Waiting for captures…")
        self._refresh()

    def _on_ended(self, sentence: str) -> None:
        self._refresh()
        if sentence:
            self.verdict.setText(sentence)

    # ---- what landed

    def _on_landed(self, news: News) -> None:
        self.watch.news.append(news)
        if news.status != "agrees":
            item = QListWidgetItem(f"{news.at}   {news.words}")
            item.setData(0x0100, news)
            set_tip(item, news.words)
            self.list.insertItem(0, item)
            if self.list.count() > MOST_LINES:
                self.list.takeItem(self.list.count() - 1)
        if news.status == "diverges":
            self.said.emit(f"{news.words} ({self.watch.count.words})")
            QApplication.alert(self)
        self._refresh()

    def _refresh(self) -> None:
        running, table = self.watch.running, self.watch.table
        stopping = self.watch.stopping
        self.starter.setText("Stopping…" if stopping else "Stop" if running else "Start")
        can_start = bool(self.folder and self._session.case.good.captures)
        self.starter.setEnabled(not stopping and (running or can_start))
        without = "" if self._session.case.good.captures else "Add known-good captures in step 1 first"
        set_tip(self.starter, without or "Ends the watch" if running else without or "Begins to watch the folder")
        self.chooser.setEnabled(not running)
        self.old.setEnabled(not running)
        self.writer.setEnabled(table.captures > 0)
        self._show_cells()
        self.counted.emit()
        if self.watch.news:
            self.count.setText(self.watch.count.words)
            self.verdict.setText(" ".join(self.watch.sentences))

    def _show_cells(self) -> None:
        news = list(self.watch.news)
        cells = [CaptureCell(CELL_KINDS.get(n.status, "unknown"), f"{n.at}  {n.words}") for n in news]
        self.strip.set_cells(cells, news.index(self._chosen) if self._chosen in news else -1)

    def _on_item(self, item: QListWidgetItem | None) -> None:
        if item is not None:
            self._choose(item.data(0x0100))

    def _choose(self, news: News | None) -> None:
        self._chosen = news
        self._show_cells()
        self.taker.setEnabled(news is not None and news.status in ("diverges", "agrees", "cannot tell"))
        if news is not None and news.status == "agrees":
            self.said.emit(f"{news.at}  {news.words}")

    def _take(self) -> None:
        if self._chosen is not None:
            self.captureWanted.emit(self._chosen.path)

    def _write(self) -> None:
        if self.watch.write_in_log():
            self.said.emit("In the log, with its proof")

    def closeEvent(self, event: QCloseEvent) -> None:
        """A watch goes on while its form is closed; its count then stands in the frame."""
        super().closeEvent(event)
        self.counted.emit()

    def reject(self) -> None:
        """Esc closes the form and ends no watch of hours."""
        super().reject()
        self.counted.emit()
