"""What the Levels and the Timing page share: rows of one report, a chosen row, and a panel with what to do about it."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING, Any

from PySide6.QtCore import Qt
from PySide6.QtGui import QResizeEvent
from PySide6.QtWidgets import QHBoxLayout, QPushButton, QScrollArea, QVBoxLayout, QWidget

from app.case.changes import Put, SetSheet
from app.case.record import next_id
from app.case.values import Mark
from app.model.log_changes import line_change
from app.pages.page import Page, PageContext
from app.widgets.controls.label import label
from app.widgets.controls.save_figure import ask_and_save
from app.widgets.controls.side_panel import SidePanel
from app.widgets.controls.wrap_row import WrapRow
from tracecore.quantities import group_digits

if TYPE_CHECKING:
    from app.case.values import Entry


class MeasuredPage(Page):
    """``centre`` is laid between what a page puts at its left and the panel; ``nothing`` stands there instead while
    there is nothing to show: why, and in ``help`` what can be done about it.

    A page gives ``report``, ``show_report``, ``show_row``, ``entry`` and ``place``."""

    def __init__(self, context: PageContext, name: str, panel: str) -> None:
        super().__init__(context)
        self.setAccessibleName(name)
        self._signal = ""
        self.across = QHBoxLayout(self)
        self.across.setContentsMargins(14, 0, 0, 0)
        self.across.setSpacing(12)
        self.centre = QWidget()
        self.down = QVBoxLayout(self.centre)
        self.down.setContentsMargins(0, 10, 0, 8)
        self.down.setSpacing(4)
        self.across.addWidget(self.centre, 1)
        self.nothing = QWidget()
        empty = QVBoxLayout(self.nothing)
        empty.setContentsMargins(0, 12, 14, 0)
        self.waiting = label("", "muted")
        empty.addWidget(self.waiting)
        self.help = WrapRow()
        empty.addLayout(self.help)
        empty.addStretch(1)
        self.across.addWidget(self.nothing, 1)
        self.panel = SidePanel(panel, "", context.theme)
        self.across.addWidget(self.panel)
        self.inside = self._scrolling()
        self._deeds()
        self.saver = QPushButton("Save…")
        self.saver.setProperty("small", True)
        self.saver.setToolTip("Save the figure as SVG or PNG")
        self.saver.clicked.connect(self._save)

    def _scrolling(self) -> QVBoxLayout:
        """What the panel says, which scrolls where it is longer than the window."""
        inside = QWidget()
        inside.setObjectName("causeBody")
        down = QVBoxLayout(inside)
        down.setContentsMargins(0, 0, 6, 0)
        down.setSpacing(6)
        around = QScrollArea()
        around.setWidgetResizable(True)
        around.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        around.setFocusPolicy(Qt.FocusPolicy.NoFocus)
        around.setWidget(inside)
        self.panel.body.addWidget(around, 1)
        return down

    def _deeds(self) -> None:
        row = QHBoxLayout()
        self.writer, self.marker = QPushButton("Write in log"), QPushButton("Mark cycle")
        self.writer.setProperty("role", "decision")
        self.writer.clicked.connect(self._write)
        self.marker.clicked.connect(self._mark)
        row.addWidget(self.writer)
        row.addWidget(self.marker)
        self.panel.body.addLayout(row)

    def resizeEvent(self, event: QResizeEvent) -> None:
        super().resizeEvent(event)
        self.fit()

    def fit(self) -> None:
        """Shares the width out again."""

    # ---- what a page gives

    @property
    def report(self) -> Any:
        """The report that is shown; None while it is measured."""
        return None

    def show_report(self) -> None:
        """Fills the list or the table from ``report``, which has rows, and chooses a row."""

    def shown_with_rows(self) -> tuple[QWidget, ...]:
        """What stands on the page while there are rows."""
        return self.centre, self.panel

    def select(self, signal: str) -> None:
        """Chooses the row of a signal in the list or the table."""

    def show_row(self, row: Any) -> None:
        """Shows the chosen row."""

    def why_nothing(self) -> str:
        """Why there is a report and yet nothing to show."""
        return ""

    def entry(self, row: Any) -> Entry | None:
        """What goes into the log about a row; None where nothing stands out."""
        return None

    def place(self, row: Any) -> tuple[int, str] | None:
        """The good cycle that stands out, and words for a mark; None without one."""
        return None

    def figures(self) -> tuple[tuple[str, QWidget], ...]:
        """What may be saved as a file, each with a name for it."""
        return ()

    # ---- showing

    def row(self) -> Any:
        """The chosen row; None without one."""
        report = self.report
        return None if report is None else next((r for r in report.rows if r.signal == self._signal), None)

    def refresh(self, what: str) -> None:
        if what in ("measured", "comparison") or (what == "case" and not self.context.session.ready):
            self._show()
        elif what == "chosen":
            chosen, report = self.context.session.chosen.signal, self.report
            if chosen and chosen != self._signal and report and any(r.signal == chosen for r in report.rows):
                self.select(chosen)
        self.said.emit(self.status())

    def _show(self) -> None:
        session = self.context.session
        report = self.report if session.ready else None
        there = report is not None and bool(report.rows)
        for widget in self.shown_with_rows():
            widget.setVisible(there)
        self.nothing.setVisible(not there)
        for place in range(self.help.count()):
            item = self.help.itemAt(place)
            helper = item.widget() if item is not None else None
            if helper is not None:
                # while captures lack, or are being measured, there is nothing to help
                helper.setVisible(report is not None and not there)
        self._signal = ""
        if there:
            names = [row.signal for row in self.report.rows]
            self.show_report()
            wanted = session.chosen.signal or ""
            self.select(wanted if wanted in names else names[0])
        elif not session.ready:
            self.waiting.setText("Add a known-good and a suspect capture in step 1 first.")
        else:
            self.waiting.setText((report is not None and self.why_nothing()) or session.trouble or "Being measured…")

    def chosen_row(self, signal: str) -> None:
        """A row of the list or the table became the chosen one."""
        if signal == self._signal:
            return
        self._signal = signal
        row = self.row()
        if row is None:
            return
        self.context.session.choose(signal=signal)
        self.show_row(row)
        self.writer.setEnabled(self.entry(row) is not None)
        self.marker.setEnabled(self.place(row) is not None)
        self.said.emit(self.status())

    # ---- deeds

    def set_probe(self, signal: str, **changed: Any) -> None:
        """Changes the row of a signal on the sheet; one that has none gets one."""
        session = self.context.session
        sheet = session.case.sheet
        known = next((p for p in sheet.probes if p.signal == signal), None)
        # without a row a channel's own name is the signal
        probe = replace(known if known is not None else replace(sheet.probe(signal), signal=signal), **changed)
        probes = tuple(probe if p is known else p for p in sheet.probes) if known else (*sheet.probes, probe)
        session.change(SetSheet(replace(sheet, probes=probes)))

    def _write(self) -> None:
        row, session = self.row(), self.context.session
        entry = None if row is None else self.entry(row)
        if entry is None:
            return
        number = next_id(session.case.entries)
        if session.change(line_change(session.case, replace(entry, author=session.author))):
            self.said.emit(f"In the log as entry {number}: {entry.text}")

    def _mark(self) -> None:
        row, session = self.row(), self.context.session
        found = None if row is None else self.place(row)
        if found is None:
            return
        cycle, words = found
        mark = Mark(0, "finding", words, cycle, cycle, (row.signal,), author=session.author)
        if session.change(Put(mark)):
            self.said.emit(f"Marked cycle {group_digits(cycle)}")

    def _save(self) -> None:
        from PySide6.QtGui import QCursor
        from PySide6.QtWidgets import QMenu

        figures = self.figures()
        if len(figures) > 1:
            menu = QMenu(self)
            for name, widget in figures:
                menu.addAction(name).triggered.connect(lambda _on=False, n=name, w=widget: self._save_one(n, w))
            menu.exec(QCursor.pos())
        elif figures:
            self._save_one(*figures[0])

    def _save_one(self, name: str, widget: QWidget) -> None:
        told = ask_and_save(widget, f"{self._signal} {name}.svg".strip())
        if told:
            self.said.emit(told)
