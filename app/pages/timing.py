"""Step 5: delays of both sides after the active edge, and setup and hold against the part that takes a signal in."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from PySide6.QtCore import Qt
from PySide6.QtGui import QResizeEvent
from PySide6.QtWidgets import (
    QAbstractItemView,
    QGridLayout,
    QHBoxLayout,
    QHeaderView,
    QLineEdit,
    QPushButton,
    QScrollArea,
    QTableView,
    QVBoxLayout,
    QWidget,
)

from app.case.changes import Put, SetSheet
from app.case.record import next_id
from app.case.values import Entry, EntryKind, Mark
from app.model.log_changes import line_change
from app.pages.page import Page, PageContext
from app.timing_text import budget_sentence, difference_words, nanoseconds, reading_sentence
from app.widgets.controls.elided_label import ElidedLabel
from app.widgets.controls.label import label
from app.widgets.controls.save_figure import ask_and_save
from app.widgets.controls.side_panel import SidePanel
from app.widgets.timing.delay_histogram import DelayHistogram
from app.widgets.timing.strip_header import StripHeader
from app.widgets.timing.strip_painter import StripPainter
from app.widgets.timing.strip_rows import ROW, StripFilter, StripRows
from tracecore.quantities import format_time, group_digits

if TYPE_CHECKING:
    from tracecore.compare.timing_comparison import SignalTiming, TimingReport

ROOM_FOR_STRIPS = 760
"""Pixels at 100 % that the table keeps before the panel folds."""
SHAPES = (("violates", "▲"), ("marginal", "◆"), ("cannot be judged", "?"), ("within", "✓"))


class TimingPage(Page):
    """The table of strips, and the chosen signal at the right."""

    def __init__(self, context: PageContext) -> None:
        super().__init__(context)
        self.setAccessibleName("Timing")
        self._signal = ""
        across = QHBoxLayout(self)
        across.setContentsMargins(14, 0, 0, 0)
        across.setSpacing(12)
        self.centre = self._centre()
        across.addWidget(self.centre, 1)
        self.waiting = label("", "muted")
        self.waiting.setAlignment(Qt.AlignmentFlag.AlignTop)
        self.waiting.setContentsMargins(0, 12, 0, 0)
        across.addWidget(self.waiting, 1)
        self.panel = SidePanel("Chosen signal", "", context.theme)
        self._fill_panel()
        across.addWidget(self.panel)
        self.retheme()
        self.refresh("measured")

    # ---- building

    def _centre(self) -> QWidget:
        centre = QWidget()
        down = QVBoxLayout(centre)
        down.setContentsMargins(0, 10, 0, 8)
        down.setSpacing(4)
        head = QHBoxLayout()
        head.addWidget(label("Delay after the active edge", "heading", wrap=False))
        self.edge = ElidedLabel("", "muted")
        head.addWidget(self.edge, 1)
        self.filter = QLineEdit()
        self.filter.setPlaceholderText("Filter")
        self.filter.setAccessibleName("Filter the signals")
        self.filter.setMaximumWidth(150)
        self.saver = QPushButton("Save…")
        self.saver.setProperty("small", True)
        head.addWidget(self.filter)
        head.addWidget(self.saver)
        down.addLayout(head)
        self.counted = ElidedLabel("", "muted")
        down.addWidget(self.counted)
        self.rows = StripRows()
        self.shown = StripFilter(self.rows)
        self.table = QTableView()
        self.painter = StripPainter()
        self.header = StripHeader(self.painter)
        self.table.setHorizontalHeader(self.header)
        self.table.setModel(self.shown)
        self.table.setItemDelegate(self.painter)
        self.table.setAccessibleName("Timing of each signal")
        self.table.setSelectionBehavior(QAbstractItemView.SelectionBehavior.SelectRows)
        self.table.setSelectionMode(QAbstractItemView.SelectionMode.SingleSelection)
        self.table.setSortingEnabled(True)
        self.table.sortByColumn(3, Qt.SortOrder.AscendingOrder)
        self.table.setShowGrid(False)
        self.table.verticalHeader().hide()
        self.header.setSectionResizeMode(1, QHeaderView.ResizeMode.Stretch)
        down.addWidget(self.table, 1)
        self.legend = ElidedLabel(
            "Each strip: box to 95 % of the transitions, line to the latest, tick at the median, ends of one sample; "
            "light band setup, dark band hold",
            "muted",
        )
        down.addWidget(self.legend)
        self.filter.textChanged.connect(self._filter)
        self.saver.clicked.connect(self._save)
        self.table.selectionModel().currentRowChanged.connect(lambda *_: self._on_row())
        return centre

    def _fill_panel(self) -> None:
        inside = QWidget()
        inside.setObjectName("causeBody")
        down = QVBoxLayout(inside)
        down.setContentsMargins(0, 0, 6, 0)
        down.setSpacing(6)
        self.title = label("", "warning")
        self.text = label("")
        self.histogram = DelayHistogram()
        down.addWidget(self.title)
        down.addWidget(self.text)
        down.addWidget(self.histogram)
        part = QHBoxLayout()
        part.addWidget(label("Into", "muted", wrap=False))
        self.into = QLineEdit()
        self.into.setPlaceholderText("part, such as 7474")
        self.into.setAccessibleName("The part that takes the signal in")
        self.into.setToolTip("Type the part that takes this signal in, such as 7474 or 74161 LOAD_n, and press Enter")
        self.into.returnPressed.connect(self._set_part)
        part.addWidget(self.into, 1)
        down.addLayout(part)
        grid = QGridLayout()
        self.small: list[tuple[QWidget, QPushButton]] = []
        for n, side in enumerate(("good", "suspect")):
            words, button = label("", wrap=False), QPushButton("")
            button.setProperty("small", True)
            button.clicked.connect(lambda _checked=False, side=side: self._go(side))
            grid.addWidget(words, n, 0)
            grid.addWidget(button, n, 1)
            self.small.append((words, button))
        down.addLayout(grid)
        down.addWidget(label("Path budget, a sum of maxima", "strong"))
        self.path = QLineEdit()
        self.path.setPlaceholderText("7474 7404 7400 7474")
        self.path.setAccessibleName("Parts along the path")
        self.path.setToolTip(
            "Parts from the register that starts the path to the one that ends it, with spaces between"
        )
        self.path.textChanged.connect(lambda _text: self._budget())
        down.addWidget(self.path)
        self.budget = label("", "muted")
        down.addWidget(self.budget)
        down.addStretch(1)
        around = QScrollArea()
        around.setWidgetResizable(True)
        around.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        around.setFocusPolicy(Qt.FocusPolicy.NoFocus)
        around.setWidget(inside)
        self.panel.body.addWidget(around, 1)
        row = QHBoxLayout()
        self.writer, self.marker = QPushButton("Write in log"), QPushButton("Mark cycle")
        self.writer.setProperty("role", "decision")
        self.writer.clicked.connect(self._write)
        self.marker.clicked.connect(self._mark)
        row.addWidget(self.writer)
        row.addWidget(self.marker)
        self.panel.body.addLayout(row)

    # ---- look and room

    def retheme(self) -> None:
        theme, scale = self.context.theme, self.context.scale
        self.painter.theme, self.painter.scale = theme, scale
        self.table.verticalHeader().setDefaultSectionSize(round(56 * scale))
        self.histogram.set_theme(theme, scale)
        self.header.updateGeometry()
        self.header.viewport().update()
        self.panel.set_scale(theme, scale)
        self._fit()
        self.table.viewport().update()

    def resizeEvent(self, event: QResizeEvent) -> None:
        super().resizeEvent(event)
        self._fit()

    def _fit(self) -> None:
        scale = self.context.scale
        self.panel.fold(self.width() - self.panel.open_width < ROOM_FOR_STRIPS * min(scale, 1.1))
        narrow = 0.82 if self.width() < 1150 * scale else 1.0
        for k, width in ((0, 140), (2, 190), (3, 230)):
            self.table.setColumnWidth(k, round(width * scale * narrow))

    # ---- showing

    @property
    def report(self) -> TimingReport | None:
        """The report that is shown."""
        measured = self.context.session.levels_and_timing
        return None if measured is None else measured.timing

    def _row(self) -> SignalTiming | None:
        report = self.report
        return next((r for r in report.rows if r.signal == self._signal), None) if report is not None else None

    def refresh(self, what: str) -> None:
        if what in ("measured", "comparison") or (what == "case" and not self.context.session.ready):
            self._show()
        elif what == "chosen":
            self._select(self.context.session.chosen.signal or "")
        self.said.emit(self.status())

    def _show(self) -> None:
        session = self.context.session
        report = self.report if session.ready else None
        there = report is not None and bool(report.rows)
        self.centre.setVisible(there)
        self.panel.setVisible(there)
        self.waiting.setVisible(not there)
        self.rows.set_report(report if there else None)
        if report is None or not there:
            waiting = session.trouble or "Being measured…"
            self.waiting.setText(
                waiting if session.ready else "Add a known-good and a suspect capture in step 1 first."
            )
            self._signal = ""
            return
        self.painter.period_ps, self.painter.inactive_ps = max(report.period_ps, 1), report.inactive_ps
        arrow = "↑" if report.edge == "rising" else "↓"
        self.header.edge_words = f"{report.clock} {arrow}"
        self.edge.setText(
            f"{report.clock} {arrow}, cycle {format_time(report.period_ps)}; active edge at both ink lines"
        )
        self._count()
        wanted = session.chosen.signal or ""
        self._signal = ""
        self._select(wanted if any(r.signal == wanted for r in report.rows) else report.rows[0].signal)

    def _count(self) -> None:
        report = self.report
        if report is None:
            return
        words = "  ".join(f"{shape} {report.count(verdict)} {verdict}" for verdict, shape in SHAPES)  # type: ignore[arg-type]
        hidden = len(report.rows) - self.shown.rowCount()
        self.counted.setText(words + (f"   {hidden} left out by the filter" if hidden else ""))

    def _filter(self, text: str) -> None:
        self.shown.set_words(text)
        self._count()

    def _select(self, signal: str) -> None:
        for k in range(self.shown.rowCount()):
            if self.shown.index(k, 0).data(ROW).signal == signal and signal != self._signal:
                self.table.selectRow(k)

    def _on_row(self) -> None:
        index = self.table.currentIndex()
        if not index.isValid():
            return
        row: SignalTiming = index.data(ROW)
        if row.signal == self._signal:
            return
        self._signal = row.signal
        self.context.session.choose(signal=row.signal)
        self._show_row(row)
        self.said.emit(self.status())

    def _show_row(self, row: SignalTiming) -> None:
        report = self.report
        assert report is not None
        self.panel.subtitle.setText(f"{row.signal}  {row.place}".strip())
        late = "" if row.difference_ps is None else f"median {nanoseconds(abs(row.difference_ps))} "
        late += "" if row.difference_ps is None else ("late" if row.difference_ps > 0 else "early")
        mark = dict(SHAPES)[row.verdict]
        self.title.setText(f"{mark} {row.verdict}{', ' + late if row.differs else ''}")
        self.text.setText(reading_sentence(row) if row.readings else f"{row.why[:1].upper()}{row.why[1:]}.")
        self.histogram.set_row(row, report.period_ps)
        self.into.setText(row.into)
        for (words, button), (side, readings) in zip(
            self.small, (("good", row.good_readings), ("suspect", row.readings)), strict=True
        ):
            worst = min(readings, key=lambda r: r.smallest.value_ps - r.limit_ps, default=None)
            for widget in (words, button):
                widget.setVisible(worst is not None)
            if worst is None:
                continue
            shape = "●" if side == "good" else "■"
            words.setText(f"{shape} {side}: {worst.what} {nanoseconds(worst.smallest.value_ps)}")  # type: ignore[attr-defined]
            button.setEnabled(worst.good_cycle is not None)
            where = "not matched" if worst.good_cycle is None else f"Go to {group_digits(worst.good_cycle)}"
            button.setText(where)
        worst = row.worst
        self.marker.setEnabled(worst is not None and worst.good_cycle is not None)
        self._budget()

    def _budget(self) -> None:
        from tracecore.errors import RequestError
        from tracecore.measure.part_figures import path_budget

        report, text = self.report, self.path.text().split()
        if not text:
            self.budget.setText("Type the parts from one register to the next.")
            return
        try:
            self.budget.setText(budget_sentence(path_budget(tuple(text)), report.period_ps if report else 0))
        except RequestError as error:
            self.budget.setText(str(error))

    # ---- deeds

    def _set_part(self) -> None:
        from tracecore.compare.timing_limits import limits_into
        from tracecore.errors import RequestError

        row, session = self._row(), self.context.session
        if row is None:
            return
        text = self.into.text().strip()
        if text:
            edge = self.report.edge if self.report is not None else "rising"
            try:
                limits_into(text, edge)
            except RequestError as error:
                sentence = f"{row.signal}: {error}"
                self.said.emit(sentence)
                self.text.setText(sentence)
                return
        sheet = session.case.sheet
        known = next((p for p in sheet.probes if p.signal == row.signal), None)
        probe = replace(known or sheet.probe(row.signal), into=text)
        probes = tuple(probe if p is known else p for p in sheet.probes) if known else (*sheet.probes, probe)
        session.change(SetSheet(replace(sheet, probes=probes)))

    def _go(self, side: str) -> None:
        row = self._row()
        if row is None:
            return
        readings = row.good_readings if side == "good" else row.readings
        worst = min(readings, key=lambda r: r.smallest.value_ps - r.limit_ps, default=None)
        if worst is not None and worst.good_cycle is not None:
            self.context.session.choose(signal=row.signal, cycle=worst.good_cycle)
            self.context.act("page_compare")

    def _write(self) -> None:
        row, session = self._row(), self.context.session
        if row is None:
            return
        worst = row.worst
        place = f" at {row.place}" if row.place else ""
        text = f"{row.signal} {worst.what if worst else 'timing'} {row.verdict}{place}"
        number = next_id(session.case.entries)
        kind: EntryKind = "suspected" if row.verdict == "violates" else "seen"
        cycle = worst.good_cycle if worst is not None else None
        details = f"{reading_sentence(row)}\nDifference of medians: {difference_words(row)}"
        if session.change(
            line_change(session.case, Entry(0, kind, text, session.author, cycle=cycle, details=details))
        ):
            self.said.emit(f"In the log as entry {number}: {text}")

    def _mark(self) -> None:
        row, session = self._row(), self.context.session
        worst = None if row is None else row.worst
        if row is None or worst is None or worst.good_cycle is None:
            return
        mark = Mark(0, "finding", worst.words, worst.good_cycle, worst.good_cycle, (row.signal,), author=session.author)
        if session.change(Put(mark)):
            self.said.emit(f"Marked cycle {group_digits(worst.good_cycle)}")

    def _save(self) -> None:
        told = ask_and_save(self.table, "timing.svg")
        if told:
            self.said.emit(told)

    def status(self) -> str:
        row, report = self._row(), self.report
        if row is None or report is None:
            return ""
        good, suspect = (nanoseconds(s.median_ps if s is not None else None) for s in (row.good, row.suspect))
        line = f"{row.signal} · median {good} good, {suspect} suspect"
        if row.good is not None and row.suspect is not None:
            pair = row.good.resolution_ps + row.suspect.resolution_ps
            line += f" · one pair of transitions reads to ±{nanoseconds(pair)}"
            if row.difference_reads_to_ps is not None:
                line += f", the medians to ±{nanoseconds(row.difference_reads_to_ps)}"
            if row.good.locked or row.suspect.locked:
                line += " (sampling is locked to the clock)"
        return line + (f" · {report.notes[0]}" if report.notes else "")
