"""Step 5: delays of both sides after the active edge, and setup and hold against the part that takes a signal in."""

from __future__ import annotations

from typing import TYPE_CHECKING

from PySide6.QtWidgets import QGridLayout, QHBoxLayout, QLineEdit, QPushButton, QWidget

from app.case.values import Entry, EntryKind
from app.comparison_text import skew_text
from app.pages.measured import MeasuredPage
from app.pages.page import PageContext
from app.timing_text import (
    budget_sentence,
    clock_lines,
    clock_short,
    difference_words,
    nanoseconds,
    reading_sentence,
)
from app.widgets.controls.elided_label import ElidedLabel
from app.widgets.controls.label import label
from app.widgets.controls.row_table import RowTable, WordFilter, filter_box
from app.widgets.timing.delay_histogram import DelayHistogram
from app.widgets.timing.strip_header import StripHeader
from app.widgets.timing.strip_painter import StripPainter
from app.widgets.timing.strip_rows import ROW, StripRows
from tracecore.compare.timing_limits import LimitReading, limits_into
from tracecore.errors import RequestError
from tracecore.measure.part_figures import path_budget
from tracecore.quantities import format_time, group_digits

if TYPE_CHECKING:
    from tracecore.compare.timing_comparison import SignalTiming, TimingReport

ROOM_FOR_STRIPS = 760
"""Pixels at 100 % that the table keeps before the panel folds."""
SHAPES = (("violates", "▲"), ("marginal", "◆"), ("cannot be judged", "?"), ("within", "✓"))
DIFFERENCE, VERDICT = 2, 3
ROOM_FOR_A_STRIP, MOST_NAME, MOST_VERDICT = 300, 150, 250
"""Pixels at 100 % that the strips keep before words give way, and the most that names and verdicts take."""


class TimingPage(MeasuredPage):
    """The table of strips, and the chosen signal at the right."""

    def __init__(self, context: PageContext) -> None:
        super().__init__(context, "Timing", "Chosen signal")
        self._fill_centre()
        self._fill_panel()
        self.retheme()
        self.refresh("measured")

    # ---- building

    def _fill_centre(self) -> None:
        head = QHBoxLayout()
        head.addWidget(label("Delay after the active edge", "heading", wrap=False))
        self.edge = ElidedLabel("", "muted")
        head.addWidget(self.edge, 1)
        self.filter = filter_box("signals")
        head.addWidget(self.filter)
        head.addWidget(self.saver)
        self.down.addLayout(head)
        self.counted, self.clock = ElidedLabel("", "muted"), ElidedLabel("", "muted")
        self.told_above, self.note = label("", "warning"), label("", "warning")
        for widget in (self.counted, self.clock, self.note, self.told_above):
            self.down.addWidget(widget)
        self.rows = StripRows()
        self.shown = WordFilter()
        self.shown.setSourceModel(self.rows)
        self.painter = StripPainter()
        self.header = StripHeader(self.painter)
        self.table = RowTable(self.shown, "Timing of each signal", sorted_by=VERDICT, stretched=1)
        self.table.set_heading(self.header)
        self.table.setItemDelegate(self.painter)
        self.down.addWidget(self.table, 1)
        self.legend = ElidedLabel(
            "Each strip: box to 95 % of the transitions, line to the latest, tick at the median, ends of one sample; "
            "light band setup, dark band hold",
            "muted",
        )
        self.down.addWidget(self.legend)
        self.ways = ElidedLabel(
            "Difference: of medians of all delays; skew on Compare: median over transitions that both sides have",
            "muted",
        )
        self.down.addWidget(self.ways)
        self.filter.textChanged.connect(self._filter)
        self.table.selectionModel().currentRowChanged.connect(lambda *_: self._on_row())

    def _fill_panel(self) -> None:
        down = self.inside
        self.title, self.text = label("", "warning"), label("")
        self.histogram = DelayHistogram()
        for widget in (self.title, self.text, self.histogram):
            down.addWidget(widget)
        part = QHBoxLayout()
        part.addWidget(label("Into", "muted", wrap=False))
        self.into = QLineEdit()
        self.into.setPlaceholderText("part, such as 7474")
        self.into.setAccessibleName("The part that takes the signal in, or its limits")
        self.into.setToolTip(
            "Type the part that takes this signal in, such as 7474 or 74161 LOAD_n, or limits such as "
            "setup=20 ns hold=5 ns, and press Enter"
        )
        self.into.returnPressed.connect(self.set_part)
        part.addWidget(self.into, 1)
        down.addLayout(part)
        grid = QGridLayout()
        self.small: list[tuple[ElidedLabel, QPushButton]] = []
        for n, side in enumerate(("good", "suspect")):
            words, button = ElidedLabel(), QPushButton("")
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

    # ---- look and room

    def retheme(self) -> None:
        theme, scale = self.context.theme, self.context.scale
        self.painter.theme, self.painter.scale = theme, scale
        self.table.verticalHeader().setDefaultSectionSize(round(56 * scale))
        self.histogram.set_theme(theme, scale)
        self.header.updateGeometry()
        self.header.viewport().update()
        self.panel.set_scale(theme, scale)
        self.fit()
        self.table.viewport().update()

    def fit(self) -> None:
        scale = self.context.scale
        self.panel.fold(self.width() - self.panel.open_width < ROOM_FOR_STRIPS * min(scale, 1.1))
        self._share_columns()
        row = self.row()
        if row is not None:
            self._tell_above(row)

    def _share_columns(self) -> None:
        """The words take what they need, and the strips the rest. Where that is little what stands under a difference
        gives way, and then the difference, which the bottom line says too."""
        painter, scale = self.painter, self.context.scale
        rows = self.report.rows if self.report is not None else ()
        heads = [self.header.sectionSizeHint(k) for k in range(self.rows.columnCount())]
        name = min(max([heads[0], *map(painter.name_px, rows)]), MOST_NAME * scale)
        verdict = min(max([heads[VERDICT], *map(painter.verdict_px, rows)]), MOST_VERDICT * scale)
        full, brief = (
            max([heads[DIFFERENCE], *(painter.difference_px(row, brief=brief) for row in rows)])
            for brief in (False, True)
        )
        room = self.width() - self.panel.width() - self.across.contentsMargins().left() - self.across.spacing()
        left = room - name - verdict - ROOM_FOR_A_STRIP * min(scale, 1.2)
        painter.brief = full > left
        self.table.setColumnHidden(DIFFERENCE, brief > left)
        self.ways.setVisible(brief <= left)
        for k, width in ((0, name), (DIFFERENCE, brief if painter.brief else full), (VERDICT, verdict)):
            self.table.setColumnWidth(k, round(width))

    # ---- showing

    @property
    def report(self) -> TimingReport | None:
        measured = self.context.session.levels_and_timing
        return None if measured is None else measured.timing

    def show_report(self) -> None:
        report = self.report
        assert report is not None
        self.rows.set_report(report)
        self.painter.period_ps, self.painter.inactive_ps = max(report.period_ps, 1), report.inactive_ps
        arrow = "↑" if report.edge == "rising" else "↓"
        self.header.edge_words = f"{report.clock} {arrow}"
        self.edge.setText(
            f"{report.clock} {arrow}, cycle {format_time(report.period_ps)}; active edge at both ink lines"
        )
        self.clock.setText(clock_short(report))
        self.note.setText(report.notes[0] if report.notes else "")
        self.note.setVisible(bool(report.notes))
        self._count()
        self._share_columns()

    def why_nothing(self) -> str:
        # the report's own note says why there are no rows, where it has one
        told = self.report.notes if self.report is not None else ()
        return told[0] if told else "Besides the clock no signal was captured on either side."

    def _count(self) -> None:
        report = self.report
        if report is None:
            return
        words = "  ".join(f"{shape} {report.count(verdict)} {verdict}" for verdict, shape in SHAPES)  # type: ignore[arg-type]
        hidden = len(report.rows) - self.shown.rowCount()
        self.counted.setText(words + (f"   {hidden} left out by the filter" if hidden else ""))

    def _filter(self, text: str) -> None:
        self.shown.set_filter(text)
        self._count()

    def select(self, signal: str) -> None:
        for k in range(self.shown.rowCount()):
            if self.shown.index(k, 0).data(ROW).signal == signal:
                self.table.selectRow(k)
                self.chosen_row(signal)

    def _on_row(self) -> None:
        index = self.table.currentIndex()
        if index.isValid():
            self.chosen_row(index.data(ROW).signal)

    def show_row(self, row: SignalTiming) -> None:
        report = self.report
        assert report is not None
        self.panel.subtitle.setText(f"{row.signal}  {row.place}".strip())
        self.title.setText(self._title(row))
        # only what is out of its limits, or short of them, is in the warning's colour
        self.title.setObjectName("warning" if row.verdict in ("violates", "marginal") else "strong")
        self.title.style().polish(self.title)
        said = [reading_sentence(row) if row.readings else f"{row.why[:1].upper()}{row.why[1:]}."]
        if row.signal == report.clock:
            said = [*said, *clock_lines(report)]
        said += [self._both_ways(row)] if row.skew is not None and row.difference_ps is not None else []
        note = next((n for n in report.notes if n.startswith(f"{row.signal}:")), "")
        self.text.setText("\n".join([*said, note] if note else said))
        self.histogram.set_row(row, report.period_ps)
        self.into.setText(row.into)
        self.into.setEnabled(row.signal != report.clock)
        for (words, button), (side, readings) in zip(
            self.small, (("good", row.good_readings), ("suspect", row.readings)), strict=True
        ):
            worst = self._worst(readings)
            for widget in (words, button):
                widget.setVisible(worst is not None)
            if worst is None:
                continue
            shape = "●" if side == "good" else "■"
            words.setText(f"{shape} {side}: {worst.what} {nanoseconds(worst.smallest.value_ps)}")
            button.setEnabled(worst.good_cycle is not None)
            where = "not matched" if worst.good_cycle is None else f"Go to {group_digits(worst.good_cycle)}"
            button.setText(where)
        self._tell_above(row)
        self._budget()

    @staticmethod
    def _both_ways(row: SignalTiming) -> str:
        """The difference beside the skew that Compare shows."""
        return (
            f"The medians of all delays differ by {difference_words(row)}. "
            f"The skew over transitions that both sides have, as on Compare, is {skew_text(row.skew)}."
        )

    @staticmethod
    def _title(row: SignalTiming) -> str:
        late = ""
        if row.differs and row.difference_ps is not None:
            late = f", median {nanoseconds(abs(row.difference_ps))} {'late' if row.difference_ps > 0 else 'early'}"
        return f"{dict(SHAPES)[row.verdict]} {row.verdict}{late}"

    def _tell_above(self, row: SignalTiming) -> None:
        """Where the panel is folded to its title, what violates stands above the table."""
        self.told_above.setVisible(self.panel.is_folded and row.verdict == "violates")
        self.told_above.setText(f"▲ {row.signal}: {row.why}. Measure it and the clock at {row.into} together.")

    @staticmethod
    def _worst(readings: tuple[LimitReading, ...]) -> LimitReading | None:
        return min(readings, key=lambda r: r.smallest.value_ps - r.limit_ps, default=None)

    def _budget(self) -> None:
        report, text = self.report, self.path.text().split()
        if not text:
            self.budget.setText("Type the parts from one register to the next.")
            return
        try:
            self.budget.setText(budget_sentence(path_budget(tuple(text)), report.period_ps if report else 0))
        except RequestError as error:
            self.budget.setText(str(error))

    # ---- deeds

    def set_part(self) -> None:
        """Takes the part, or the limits, that were typed into the sheet; what cannot be read changes nothing."""
        row, report = self.row(), self.report
        if row is None or report is None:
            return
        text = self.into.text().strip()
        try:
            if text:
                limits_into(text, report.edge)
        except RequestError as error:
            sentence = f"{row.signal}: {error}"
            self.said.emit(sentence)
            self.text.setText(sentence)
            return
        self.set_probe(row.signal, into=text)

    def _go(self, side: str) -> None:
        row = self.row()
        worst = None if row is None else self._worst(row.good_readings if side == "good" else row.readings)
        if worst is not None and worst.good_cycle is not None:
            self.context.session.choose(signal=row.signal, cycle=worst.good_cycle)
            self.context.act("page_compare")

    def entry(self, row: SignalTiming) -> Entry:
        found = self.place(row)
        at = f" at {row.place}" if row.place else ""
        text = f"{row.signal} {row.worst.what if row.worst else 'timing'} {row.verdict}{at}"
        details = f"{reading_sentence(row)}\nDifference of medians: {difference_words(row)}"
        kind: EntryKind = "suspected" if row.verdict == "violates" else "seen"
        return Entry(0, kind, text, cycle=None if found is None else found[0], details=details)

    def place(self, row: SignalTiming) -> tuple[int, str] | None:
        worst = row.worst
        return None if worst is None or worst.good_cycle is None else (worst.good_cycle, worst.words)

    def figures(self) -> tuple[tuple[str, QWidget], ...]:
        return ("timing", self.table), ("delays", self.histogram)

    def status(self) -> str:
        row, report = self.row(), self.report
        if row is None or report is None:
            return ""
        good, suspect = (nanoseconds(s.median_ps if s is not None else None) for s in (row.good, row.suspect))
        line = f"{row.signal} · median {good} good, {suspect} suspect, difference {difference_words(row)}"
        if row.good is not None and row.suspect is not None:
            pair = row.good.resolution_ps + row.suspect.resolution_ps
            line += f" · one pair of transitions is accurate to ±{nanoseconds(pair)}"
            if row.good.locked or row.suspect.locked:
                line += ", medians no better (sampling is locked to the clock)"
        return line
