"""Step 4: volts of both sides over what the families promise and take, with every violation."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from PySide6.QtCore import Qt
from PySide6.QtGui import QResizeEvent
from PySide6.QtWidgets import (
    QAbstractItemView,
    QComboBox,
    QGridLayout,
    QHBoxLayout,
    QHeaderView,
    QLineEdit,
    QPushButton,
    QSplitter,
    QTableView,
    QVBoxLayout,
    QWidget,
)

from app.case.changes import Put, SetSheet
from app.case.record import next_id
from app.case.values import Entry, Mark
from app.model.log_changes import line_change
from app.pages.page import Page, PageContext
from app.widgets.controls.elided_label import ElidedLabel
from app.widgets.controls.label import label
from app.widgets.controls.save_figure import ask_and_save
from app.widgets.controls.side_panel import SidePanel
from app.widgets.controls.signal_name import SignalName
from app.widgets.levels.band_plot import BandPlot
from app.widgets.levels.finding_card import FindingCard
from app.widgets.levels.level_list import LevelList
from app.widgets.levels.margin_bars import MarginBars
from app.widgets.levels.violation_table import ViolationFilter, ViolationRows
from tracecore.measure.families import families
from tracecore.quantities import format_time, format_volts, group_digits

if TYPE_CHECKING:
    from collections.abc import Callable

    from app.case.record import Side
    from tracecore.compare.level_comparison import LevelReport, SignalLevels

ROOM_FOR_PLOT = 620
"""Pixels at 100 % that list and plot keep before the panel folds."""
LARGE = 1.3


class LevelsPage(Page):
    """The list of signals, the plot over the violations, and the finding at the right."""

    def __init__(self, context: PageContext, add_captures: Callable[[Side], None]) -> None:
        super().__init__(context)
        self.setAccessibleName("Levels")
        self._add_captures = add_captures
        self._signal = ""
        across = QHBoxLayout(self)
        across.setContentsMargins(14, 0, 0, 0)
        across.setSpacing(12)
        self.column = self._list_column()
        across.addWidget(self.column)
        self.centre = self._centre()
        across.addWidget(self.centre, 1)
        self.waiting = label("", "muted")
        self.waiting.setAlignment(Qt.AlignmentFlag.AlignTop)
        self.waiting.setContentsMargins(0, 12, 0, 0)
        across.addWidget(self.waiting, 1)
        self.panel = SidePanel("Finding", "", context.theme)
        self._fill_panel()
        across.addWidget(self.panel)
        self.retheme()
        self.refresh("measured")

    # ---- building

    def _list_column(self) -> QWidget:
        column = QWidget()
        down = QVBoxLayout(column)
        down.setContentsMargins(0, 10, 0, 8)
        down.setSpacing(4)
        down.addWidget(label("Signals", "heading", wrap=False))
        self.order = ElidedLabel("Worst margin first: good, suspect", "muted")
        down.addWidget(self.order)
        self.list = LevelList()
        self.list.chosen.connect(self._choose)
        down.addWidget(self.list, 1)
        self.without = label("", "muted")
        down.addWidget(self.without)
        self.adder = QPushButton("Add volts")
        self.adder.setToolTip("Add a scope capture of the suspect side")
        self.adder.clicked.connect(lambda: self._add_captures("suspect"))
        down.addWidget(self.adder)
        return column

    def _centre(self) -> QWidget:
        centre = QWidget()
        down = QVBoxLayout(centre)
        down.setContentsMargins(0, 8, 0, 8)
        down.setSpacing(4)
        head = QHBoxLayout()
        self.name = SignalName("")
        head.addWidget(self.name)
        self.place = label("", "muted", wrap=False)
        head.addWidget(self.place)
        head.addStretch(1)
        self.driver, self.receiver = (self._family_box(which) for which in ("Driver", "Receiver"))
        self.driver_word = label("Driver", "muted", wrap=False)
        head.addWidget(self.driver_word)
        head.addWidget(self.driver)
        head.addWidget(label("drives", "muted", wrap=False))
        head.addWidget(self.receiver)
        down.addLayout(head)
        self.reads_to = ElidedLabel("", "muted")
        down.addWidget(self.reads_to)
        self.split = QSplitter(Qt.Orientation.Vertical)
        self.split.setChildrenCollapsible(False)
        self.plot = BandPlot()
        self.split.addWidget(self.plot)
        self.split.addWidget(self._violations())
        self.split.setStretchFactor(0, 3)
        self.split.setStretchFactor(1, 2)
        self.split.setSizes([600, 330])
        down.addWidget(self.split, 1)
        return centre

    def _family_box(self, which: str) -> QComboBox:
        box = QComboBox()
        box.setAccessibleName(f"{which}'s family")
        box.setToolTip("Choose a family, or type limits as VIL=0.8 VIH=2.0 VOL=0.4 VOH=2.4 and press Enter")
        box.setEditable(True)
        box.setInsertPolicy(QComboBox.InsertPolicy.NoInsert)
        box.setMinimumContentsLength(6)
        box.addItems(list(families()))
        box.activated.connect(lambda _index: self._set_family())
        editor = box.lineEdit()
        assert editor is not None
        editor.returnPressed.connect(self._set_family)
        return box

    def _violations(self) -> QWidget:
        area = QWidget()
        down = QVBoxLayout(area)
        down.setContentsMargins(0, 0, 0, 0)
        down.setSpacing(4)
        head = QHBoxLayout()
        head.addWidget(label("Violations", "strong", wrap=False))
        self.counted = ElidedLabel("", "muted")
        head.addWidget(self.counted, 1)
        self.filter = QLineEdit()
        self.filter.setPlaceholderText("Filter")
        self.filter.setAccessibleName("Filter the violations")
        self.filter.setMaximumWidth(150)
        self.kind = QComboBox()
        self.kind.setAccessibleName("Which kind of violation")
        self.previous, self.next, self.saver = QPushButton("Previous"), QPushButton("Next"), QPushButton("Save…")
        self.previous.setAccessibleName("Previous violation")
        self.next.setAccessibleName("Next violation")
        for button in (self.previous, self.next, self.saver):
            button.setProperty("small", True)
        for widget in (self.filter, self.kind, self.previous, self.next, self.saver):
            head.addWidget(widget)
        down.addLayout(head)
        self.rows = ViolationRows()
        self.shown = ViolationFilter(self.rows)
        self.table = QTableView()
        self.table.setModel(self.shown)
        self.table.setAccessibleName("Violations of the chosen signal")
        self.table.setSelectionBehavior(QAbstractItemView.SelectionBehavior.SelectRows)
        self.table.setSelectionMode(QAbstractItemView.SelectionMode.SingleSelection)
        self.table.setSortingEnabled(True)
        self.table.sortByColumn(1, Qt.SortOrder.AscendingOrder)
        self.table.verticalHeader().hide()
        self.table.setShowGrid(False)
        self.table.horizontalHeader().setSectionResizeMode(2, QHeaderView.ResizeMode.Stretch)
        down.addWidget(self.table, 1)
        self.filter.textChanged.connect(lambda _text: self._filter())
        self.kind.activated.connect(lambda _index: self._filter())
        self.previous.clicked.connect(lambda: self._step(-1))
        self.next.clicked.connect(lambda: self._step(1))
        self.saver.clicked.connect(self._save)
        self.table.selectionModel().currentRowChanged.connect(lambda *_: self._jump())
        return area

    def _fill_panel(self) -> None:
        self.card = FindingCard()
        self.panel.body.addWidget(self.card)
        row = QGridLayout()
        self.writer, self.marker = QPushButton("Write in log"), QPushButton("Mark cycle")
        self.writer.setProperty("role", "decision")
        self.writer.clicked.connect(self._write)
        self.marker.clicked.connect(self._mark)
        row.addWidget(self.writer, 0, 0)
        row.addWidget(self.marker, 0, 1)
        self.panel.body.addLayout(row)
        self.margin_head = label("Margins", "heading")
        self.panel.body.addWidget(self.margin_head)
        self.margins = MarginBars()
        self.panel.body.addWidget(self.margins)
        self.source = label("", "muted")
        self.panel.body.addWidget(self.source)
        self.panel.body.addStretch(1)

    # ---- look and room

    def retheme(self) -> None:
        theme, scale = self.context.theme, self.context.scale
        self.list.set_theme(theme, scale)
        self.plot.set_theme(theme, scale)
        self.margins.set_theme(theme, scale)
        self.panel.set_scale(theme, scale)
        self.name.set_theme(theme, scale)
        self.table.verticalHeader().setDefaultSectionSize(round(30 * scale))
        for k, width in enumerate((142, 88, 200, 80, 78)):
            self.table.setColumnWidth(k, round(width * min(scale, 1.5)))
        self._fit()

    def resizeEvent(self, event: QResizeEvent) -> None:
        super().resizeEvent(event)
        self._fit()

    def _fit(self) -> None:
        scale = self.context.scale
        wide = self.width() > 1250 * min(scale, 1.3)
        self.column.setFixedWidth(round((306 if wide else 262 if scale < LARGE else 205) * min(scale, 1.6)))
        # small and large: words that a mark can stand for make room
        tight = self.width() < 1000 * scale
        self.previous.setText("◂" if tight else "Previous")
        self.next.setText("▸" if tight else "Next")
        for widget in (self.place, self.driver_word, self.counted):
            widget.setVisible(not tight)
        self.table.setColumnHidden(3, tight)
        folded = self.panel.is_folded
        self.panel.fold(self.width() - self.panel.open_width - self.column.width() < ROOM_FOR_PLOT * min(scale, 1.1))
        row = self._row() if folded != self.panel.is_folded else None
        if row is not None:
            self._tell_reading(row)

    # ---- showing

    @property
    def report(self) -> LevelReport | None:
        """The report that is shown."""
        measured = self.context.session.levels_and_timing
        return None if measured is None else measured.levels

    def _row(self) -> SignalLevels | None:
        report = self.report
        return next((r for r in report.rows if r.signal == self._signal), None) if report is not None else None

    def refresh(self, what: str) -> None:
        if what in ("measured", "comparison") or (what == "case" and not self.context.session.ready):
            self._show()
        elif what == "chosen":
            chosen = self.context.session.chosen.signal
            report = self.report
            if chosen and chosen != self._signal and report and any(r.signal == chosen for r in report.rows):
                self.list.set_chosen(chosen)
        self.said.emit(self.status())

    def _show(self) -> None:
        session, report = self.context.session, self.report if self.context.session.ready else None
        there = report is not None and bool(report.rows)
        for widget in (self.column, self.centre, self.panel):
            widget.setVisible(there)
        self.waiting.setVisible(not there)
        if report is None or not there:
            self.waiting.setText(self._why_nothing(report))
            self._signal = ""
            return
        count, total = len(report.without), len(report.rows) + len(report.without)
        self.without.setVisible(bool(count))
        self.without.setText(f"{count} of {total} signals have no volts yet: add a scope capture of them.")
        self.adder.setVisible(bool(count))
        breaks, short = report.count("violates"), report.count("marginal")
        self.panel.subtitle.setText(f"{breaks} of {len(report.rows)} signals out of limits, {short} below its promise")
        wanted = session.chosen.signal or ""
        names = [row.signal for row in report.rows]
        self._signal = ""
        self.list.rows.set_rows(report.rows)
        self.list.set_chosen(wanted if wanted in names else names[0])

    def _why_nothing(self, report: LevelReport | None) -> str:
        session = self.context.session
        if not session.ready:
            return "Add a known-good and a suspect capture in step 1 first."
        if report is not None:
            return "No signal was captured in volts. Add scope captures in step 1 to see levels here."
        return session.trouble or "Being measured…"

    def _choose(self, signal: str) -> None:
        if signal == self._signal:
            return
        self._signal = signal
        row, session = self._row(), self.context.session
        if row is None:
            return
        session.choose(signal=signal)
        self._show_row(row)
        self.said.emit(self.status())

    def _show_row(self, row: SignalLevels) -> None:
        report = self.report
        assert report is not None
        self.name.name, self.name.active = row.signal, row.active
        self.name.setAccessibleName(row.signal)
        self.name.updateGeometry()
        self.name.update()
        self.place.setText(row.place)
        judged = row.suspect or row.good
        assert judged is not None
        for box, family in ((self.driver, judged.driver), (self.receiver, judged.receiver)):
            box.setCurrentText(family.name)
        self._tell_reading(row)
        self.plot.set_row(self.context.session.comparison, row)
        self.rows.set_rows(row.violations)
        kinds = list(dict.fromkeys(v.kind for v in row.violations))
        self.kind.clear()
        self.kind.addItem("every kind", "")
        for kind in kinds:
            self.kind.addItem(kind, kind)
        self._filter()
        self.card.set_row(row, report.notes)
        self.marker.setEnabled(row.finding is not None and row.finding.since_cycle is not None)
        self.writer.setEnabled(row.finding is not None)
        self.margins.set_row(row)
        self.margin_head.setText("Margins")
        note = "" if judged.receiver.status == "seen" else " (from memory: check)"
        self.source.setText(
            f"{judged.driver.name} drives {judged.receiver.name}. Taken from the worst level at which each side rests, "
            f"not from ringing. Limits: {judged.receiver.source}{note}.".replace("/", "/\u200b")
        )

    def _tell_reading(self, row: SignalLevels) -> None:
        judged = row.suspect or row.good
        assert judged is not None
        rise = judged.signal_transition_ps(True)
        slow = (
            "" if rise is not None or judged.rising.median_ps is None else "; too slow an instrument to tell rise times"
        )
        above = row.finding if self._told_above(row) else None
        found = f"{above.title} · probe next {above.probe} · " if above is not None else ""
        self.reads_to.setText(
            f"{found}reads to ±{format_volts(judged.reads_to_v)}, ±{format_time(judged.reads_to_ps, digits=3)}{slow}"
        )

    def _told_above(self, row: SignalLevels) -> bool:
        """Where the panel is folded to its title, the finding stands above the plot."""
        return self.panel.is_folded and row.finding is not None

    def _filter(self) -> None:
        self.shown.set_filter(self.filter.text(), self.kind.currentData() or "")
        row = self._row()
        if row is None:
            return
        suspect = sum(v.side == "suspect" for v in row.violations)
        shown = f", {group_digits(self.shown.rowCount())} shown" if self.shown.rowCount() < len(row.violations) else ""
        good = len(row.violations) - suspect
        self.counted.setText(f"{group_digits(suspect)} suspect, {group_digits(good)} good{shown}")
        for button in (self.previous, self.next):
            button.setEnabled(self.shown.rowCount() > 0)

    def _step(self, by: int) -> None:
        count = self.shown.rowCount()
        if count:
            now = self.table.currentIndex().row()
            self.table.selectRow(max(0, min(count - 1, now + by)) if now >= 0 else 0)

    def _jump(self) -> None:
        index = self.table.currentIndex()
        if index.isValid():
            found = self.shown.violation(index)
            if found.cycle is not None:
                self.plot.show_cycle(found.cycle)
                self.context.session.choose(signal=self._signal, cycle=found.cycle)
            self.said.emit(self.status())

    # ---- deeds

    def _set_family(self) -> None:
        row, session = self._row(), self.context.session
        if row is None:
            return
        from tracecore.errors import RequestError
        from tracecore.measure.families import family

        names = [box.currentText().strip() for box in (self.driver, self.receiver)]
        try:
            for name in names:
                family(name)
        except RequestError as error:
            self.said.emit(str(error))
            return
        sheet = session.case.sheet
        channel = next((p.channel for p in sheet.probes if p.signal == row.signal), row.signal)
        probe = replace(sheet.probe(channel), family=names[0], receiver="" if names[1] == names[0] else names[1])
        if any(p.channel == channel for p in sheet.probes):
            probes = tuple(probe if p.channel == channel else p for p in sheet.probes)
        else:
            probes = (*sheet.probes, replace(probe, signal=row.signal) if probe.signal != row.signal else probe)
        session.change(SetSheet(replace(sheet, probes=probes)))

    def _write(self) -> None:
        row, session = self._row(), self.context.session
        if row is None or row.finding is None:
            return
        finding = row.finding
        place = f" at {row.place}" if row.place else ""
        details = "\n".join(
            (finding.text, f"Probe next: {finding.probe}", *(f"{reads}: {may}" for reads, may in finding.readings))
        )
        number = next_id(session.case.entries)
        text = f"{row.signal} {finding.title}{place}"
        entry = Entry(0, "suspected", text, session.author, cycle=finding.since_cycle, details=details)
        if session.change(line_change(session.case, entry)):
            self.said.emit(f"In the log as entry {number}: {text}")

    def _mark(self) -> None:
        row, session = self._row(), self.context.session
        if row is None or row.finding is None or row.finding.since_cycle is None:
            return
        cycle = row.finding.since_cycle
        mark = Mark(0, "finding", row.finding.title, cycle, cycle, (row.signal,), author=session.author)
        if session.change(Put(mark)):
            self.said.emit(f"Marked cycle {group_digits(cycle)}")

    def _save(self) -> None:
        told = ask_and_save(self.plot, f"{self._signal} levels.svg")
        if told:
            self.said.emit(told)

    def status(self) -> str:
        row = self._row()
        if row is None:
            return ""
        parts = []
        index = self.table.currentIndex()
        if index.isValid():
            found = self.shown.violation(index)
            where = "not matched" if found.cycle is None else f"cycle {group_digits(found.cycle)}"
            parts.append(f"{found.kind} at {where}, {format_volts(found.volts)} on the {found.side} side")
        for words, shift in (("low", row.low_shift), ("high", row.high_shift)):
            if shift is not None:
                sign = "+" if shift.value >= 0 else ""
                parts.append(f"{words} differs by {sign}{format_volts(shift.value)} ±{format_volts(shift.reads_to)}")
        if row.condition:
            parts.append(f"only while {row.condition} is {'high' if row.condition_high else 'low'}")
        return f"{row.signal} · " + " · ".join(parts) if parts else row.signal
