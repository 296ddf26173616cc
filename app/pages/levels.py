"""Step 4: volts of both sides over what the families promise and take, with every violation."""

from __future__ import annotations

from typing import TYPE_CHECKING

from PySide6.QtCore import Qt
from PySide6.QtWidgets import QComboBox, QHBoxLayout, QPushButton, QSplitter, QVBoxLayout, QWidget

from app.case.record import SIDE_WORDS, SIDES
from app.case.values import Entry
from app.levels_text import shift_words, too_slow
from app.pages.measured import MeasuredPage
from app.pages.page import PageContext
from app.report.cautions import AT_THE_PINS
from app.widgets.controls.elided_label import ElidedLabel
from app.widgets.controls.label import label
from app.widgets.controls.row_table import RowTable, WordFilter, filter_box
from app.widgets.controls.signal_name import SignalName
from app.widgets.controls.tip import set_tip
from app.widgets.levels.band_plot import BandPlot
from app.widgets.levels.conditions import LevelConditions
from app.widgets.levels.finding_card import FindingCard
from app.widgets.levels.level_list import LevelList
from app.widgets.levels.margin_bars import MarginBars
from app.widgets.levels.violation_table import ViolationRows
from tracecore.errors import RequestError
from tracecore.measure.families import families, family
from tracecore.quantities import format_time, format_volts, group_digits

if TYPE_CHECKING:
    from collections.abc import Callable

    from app.case.record import Side
    from tracecore.compare.findings import LevelViolation
    from tracecore.compare.level_comparison import LevelReport
    from tracecore.compare.signal_levels import SignalLevels

ROOM_FOR_PLOT = 620
"""Pixels at 100 % that list and plot keep before the panel folds."""
ROOM_FOR_STEPS = 800
"""Pixels at 100 % beside the list from which on Previous and Next are words; in less the counts need the room."""
ROOM_FOR_BOTH = 400
"""Pixels of the page's height at 100 % from which plot and table stand there together; in less, one or the other."""
LARGE = 1.3


class LevelsPage(MeasuredPage):
    """The list of signals, the plot over the violations, and the finding at the right."""

    def __init__(self, context: PageContext, add_captures: Callable[[Side], None]) -> None:
        super().__init__(context, "Levels", "Finding")
        self._add_captures = add_captures
        self.column = self._list_column()
        self.across.insertWidget(0, self.column)
        self._fill_help()
        self._fill_centre()
        self._fill_panel()
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
        self.list.chosen.connect(self.chosen_row)
        down.addWidget(self.list, 1)
        self.without = label("", "muted")
        down.addWidget(self.without)
        self.adder = QPushButton("Add volts")
        self.adder.setToolTip("Add a scope capture of the suspect side")
        self.adder.clicked.connect(lambda: self._add_captures("suspect"))
        down.addWidget(self.adder)
        return column

    def _fill_help(self) -> None:
        """Where nothing was captured in volts: scope captures of both sides, from here."""
        self.adders: list[QPushButton] = []
        for side in SIDES:
            adder = QPushButton(f"Add {SIDE_WORDS[side].lower()} volts…")
            set_tip(adder, f"Add scope captures of the {SIDE_WORDS[side].lower()} side")
            adder.clicked.connect(lambda _on=False, side=side: self._add_captures(side))
            self.help.addWidget(adder)
            self.adders.append(adder)

    def _fill_centre(self) -> None:
        head = QHBoxLayout()
        self.name = SignalName("")
        head.addWidget(self.name)
        self.pin = label("", "muted", wrap=False)
        head.addWidget(self.pin)
        head.addStretch(1)
        self.driver, self.receiver = (self._family_box(which) for which in ("Driver", "Receiver"))
        self.driver_word = label("Driver", "muted", wrap=False)
        self.drives_word = label("drives", "muted", wrap=False)
        for widget in (self.driver_word, self.driver, self.drives_word, self.receiver):
            head.addWidget(widget)
        self.down.addLayout(head)
        self.told_above = label("", "warning")
        self.down.addWidget(self.told_above)
        self.caution_above = ElidedLabel("", "muted")
        set_tip(self.caution_above, AT_THE_PINS)
        self.down.addWidget(self.caution_above)
        self.reads_to = ElidedLabel("", "muted")
        self.down.addWidget(self.reads_to)
        self.split = QSplitter(Qt.Orientation.Vertical)
        self.split.setChildrenCollapsible(False)
        self.plot = BandPlot()
        self.split.addWidget(self.plot)
        self.split.addWidget(self._violations())
        self.split.setStretchFactor(0, 3)
        self.split.setStretchFactor(1, 2)
        self.split.setSizes([600, 330])
        self.down.addWidget(self.split, 1)

    def _family_box(self, which: str) -> QComboBox:
        box = QComboBox()
        box.setAccessibleName(f"{which}'s family")
        box.setToolTip("Choose a family, or type limits as VIL=0.8 VIH=2.0 VOL=0.4 VOH=2.4 and press Enter")
        box.setEditable(True)
        box.setInsertPolicy(QComboBox.InsertPolicy.NoInsert)
        box.setMinimumContentsLength(6)
        box.addItems(list(families()))
        box.activated.connect(lambda _index: self.set_family())
        editor = box.lineEdit()
        assert editor is not None
        editor.returnPressed.connect(self.set_family)
        return box

    def _violations(self) -> QWidget:
        area = QWidget()
        down = QVBoxLayout(area)
        down.setContentsMargins(0, 0, 0, 0)
        down.setSpacing(4)
        head = QHBoxLayout()
        self.fold_button = QPushButton()
        self.fold_button.setProperty("small", True)
        self.fold_button.setCheckable(True)
        self.fold_button.setChecked(True)
        self.fold_button.clicked.connect(self._on_fold)
        self._fold_by_hand, self._was_open, self._was_low = False, True, False
        head.addWidget(self.fold_button)
        self.counted = ElidedLabel("", "muted")
        head.addWidget(self.counted, 1)
        self.filter = filter_box("violations")
        self.kind = QComboBox()
        self.kind.setAccessibleName("Which kind of violation")
        self.previous, self.next = QPushButton("Previous"), QPushButton("Next")
        self.previous.setAccessibleName("Previous violation")
        self.next.setAccessibleName("Next violation")
        for button in (self.previous, self.next):
            button.setProperty("small", True)
        for widget in (self.filter, self.kind, self.previous, self.next, self.saver):
            head.addWidget(widget)
        down.addLayout(head)
        self.rows = ViolationRows()
        self.shown = WordFilter()
        self.shown.setSourceModel(self.rows)
        self.table = RowTable(self.shown, "Violations of the chosen signal", sorted_by=1, stretched=2)
        down.addWidget(self.table, 1)
        self.filter.textChanged.connect(lambda _text: self._filter())
        self.kind.activated.connect(lambda _index: self._filter())
        self.previous.clicked.connect(lambda: self._step(-1))
        self.next.clicked.connect(lambda: self._step(1))
        self.table.selectionModel().currentRowChanged.connect(lambda *_: self._jump())
        return area

    def _fill_panel(self) -> None:
        self.card = FindingCard()
        self.inside.addWidget(self.card)
        self.margin_head = label("Margins", "heading")
        self.inside.addWidget(self.margin_head)
        self.margins = MarginBars()
        self.inside.addWidget(self.margins)
        self.source = label("", "muted")
        self.inside.addWidget(self.source)
        self.conditions = LevelConditions(self.context.session)
        self.conditions.said.connect(self.said)
        self.inside.addWidget(self.conditions)
        self.inside.addStretch(1)

    # ---- look and room

    def retheme(self) -> None:
        theme, scale = self.context.theme, self.context.scale
        self.list.set_theme(theme, scale)
        self.plot.set_theme(theme, scale)
        self.margins.set_theme(theme, scale)
        self.panel.set_scale(theme, scale)
        self.name.set_theme(theme, scale)
        self.table.verticalHeader().setDefaultSectionSize(round(30 * scale))
        self.fit()

    def fit(self) -> None:
        scale = self.context.scale
        wide = self.width() > 1250 * min(scale, 1.3)
        self.column.setFixedWidth(round((306 if wide else 262 if scale < LARGE else 213) * min(scale, 1.6)))
        # small and large: words that a mark can stand for make room
        tight = self.width() < 1000 * scale
        for widget in (self.pin, self.driver_word, self.counted):
            widget.setVisible(not tight)
        small, low = self.width() < 700 * scale, self.height() < ROOM_FOR_BOTH * scale
        self.drives_word.setVisible(not small)
        self.table.setColumnHidden(3, tight)
        self.table.setColumnHidden(4, small)
        for box in (self.driver, self.receiver):
            box.setMinimumContentsLength(3 if small else 6)
        self.order.setVisible(not low)
        self.reads_to.setVisible(not low)
        self.plot.set_low(low)
        if not self._fold_by_hand:
            self.fold_button.setChecked(not low)
        self._fold_table()
        header = self.table.horizontalHeader()
        for k, width in enumerate((142, 88, 200, 80, 78)):
            wanted = round(width * min(scale, 1.5) * (0.85 if tight else 1))
            self.table.setColumnWidth(k, max(wanted, header.sectionSizeHint(k)))
        folded = self.panel.is_folded
        self.panel.fold(self.width() - self.panel.open_width - self.column.width() < ROOM_FOR_PLOT * min(scale, 1.1))
        beside = self.column.width() + (0 if self.panel.is_folded else self.panel.open_width)
        arrows = tight or self.width() - beside < ROOM_FOR_STEPS * scale
        self.previous.setText("◂" if arrows else "Previous")
        self.next.setText("▸" if arrows else "Next")
        row = self.row() if folded != self.panel.is_folded or low != self._was_low else None
        self._was_low = low
        if row is not None:
            self._tell_reading(row)

    def _on_fold(self) -> None:
        self._fold_by_hand = True
        self.fit()

    def _fold_table(self) -> None:
        """Where the page is low the plot has its height, and the table is the line of its head."""
        is_open = self.fold_button.isChecked()
        self.fold_button.setText(f"{'▾' if is_open else '▸'} Violations")
        set_tip(self.fold_button, "Fold the table to this line" if is_open else "Open the table")
        for widget in (self.table, self.filter, self.kind):
            widget.setVisible(is_open)
        low = self.height() < ROOM_FOR_BOTH * self.context.scale
        self.plot.setVisible(not (low and is_open))
        if is_open != self._was_open:
            self._was_open = is_open
            self.split.setStretchFactor(1, 2 if is_open else 0)
            self.split.setSizes([600, 330] if is_open else [600, 0])

    # ---- showing

    @property
    def report(self) -> LevelReport | None:
        measured = self.context.session.levels_and_timing
        return None if measured is None else measured.levels

    def show_report(self) -> None:
        report = self.report
        assert report is not None
        count, total = len(report.without), len(report.rows) + len(report.without)
        self.without.setVisible(bool(count))
        self.without.setText(f"{count} of {total} signals have no volts yet: add a scope capture of them.")
        self.adder.setVisible(bool(count))
        breaks, short = report.count("violates"), report.count("marginal")
        self.panel.subtitle.setText(f"{breaks} of {len(report.rows)} signals out of limits, {short} below its promise")
        self.list.rows.set_rows(report.rows)
        self.conditions.show_case()

    def shown_with_rows(self) -> tuple[QWidget, ...]:
        return self.column, self.centre, self.panel

    def select(self, signal: str) -> None:
        self.list.set_chosen(signal)

    def why_nothing(self) -> str:
        return "No signal was captured in volts. Add scope captures in step 1 to see levels here."

    def show_row(self, row: SignalLevels) -> None:
        report = self.report
        assert report is not None
        self.name.name, self.name.active = row.signal, row.active
        self.name.setAccessibleName(row.signal)
        self.name.updateGeometry()
        self.name.update()
        self.pin.setText(row.place)
        judged = row.suspect or row.good
        assert judged is not None
        for box, own in ((self.driver, judged.driver), (self.receiver, judged.receiver)):
            box.setCurrentText(own.name)
        self._tell_reading(row)
        self.plot.set_row(self.context.session.comparison, row)
        self.rows.set_rows(row.violations)
        self.kind.clear()
        self.kind.addItem("every kind", "")
        for kind in dict.fromkeys(v.kind for v in row.violations):
            self.kind.addItem(kind, kind)
        self._filter()
        self.card.set_row(row, report.notes)
        self.margins.set_row(row)
        note = "" if judged.receiver.status == "seen" else " (from memory: check)"
        self.source.setText(
            f"{judged.driver.name} drives {judged.receiver.name}. Taken from the worst level at which each side rests, "
            f"not from ringing. Limits: {judged.receiver.source}{note}.".replace("/", "/\u200b")
        )

    def _tell_reading(self, row: SignalLevels) -> None:
        judged = row.suspect or row.good
        assert judged is not None
        slow = "; too slow to tell rise times" if too_slow(row) else ""
        self.reads_to.setText(
            f"Accurate to ±{format_volts(judged.reads_to_v)}, ±{format_time(judged.reads_to_ps, digits=3)}{slow}"
        )
        # where the panel is folded to its title, the finding stands above the plot
        told = self.panel.is_folded and row.finding is not None
        low = self.height() < ROOM_FOR_BOTH * self.context.scale
        caution = f" {AT_THE_PINS}" if row.finding is not None and row.finding.probe else ""
        self.told_above.setVisible(told)
        # in one line where the plot needs the room; the finding has it whole
        self.caution_above.setVisible(bool(told and low and caution))
        self.caution_above.setText(caution.strip())
        if row.finding is not None:
            mark = "▲ " if row.verdict == "violates" else ""
            probe = f" Probe next: {row.finding.probe}." if row.finding.probe else ""
            self.told_above.setText(f"{mark}{row.finding.title}.{probe}{'' if low else caution}")

    def _filter(self) -> None:
        self.shown.set_filter(self.filter.text(), self.kind.currentData() or "")
        row = self.row()
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

    def violation(self) -> LevelViolation | None:
        """The chosen row of the table; None without one."""
        index = self.table.currentIndex()
        return self.rows.rows[self.shown.row_of(index)] if index.isValid() else None

    def _jump(self) -> None:
        found = self.violation()
        if found is None:
            return
        if found.cycle is not None:
            self.plot.show_cycle(found.cycle)
            self.context.session.choose(signal=self._signal, cycle=found.cycle)
        self.said.emit(self.status())

    # ---- deeds

    def set_family(self) -> None:
        """Takes both families, as chosen or typed, into the sheet; one that is unknown is told and changes nothing."""
        row = self.row()
        if row is None:
            return
        driver, receiver = (box.currentText().strip() for box in (self.driver, self.receiver))
        try:
            for name in (driver, receiver):
                family(name)
        except RequestError as error:
            self.card.tell(str(error))
            self.told_above.setText(str(error))
            self.told_above.setVisible(self.panel.is_folded)
            self.said.emit(str(error))
            return
        self.set_probe(row.signal, family=driver, receiver="" if receiver == driver else receiver)

    def entry(self, row: SignalLevels) -> Entry | None:
        finding = row.finding
        if finding is None:
            return None
        readings = (f"{reads}: {may}" for reads, may in finding.readings)
        probe = (f"Probe next: {finding.probe}", AT_THE_PINS) if finding.probe else ()
        details = "\n".join((finding.text, *probe, *readings))
        text = f"{row.signal} {finding.title}{f' at {row.place}' if row.place else ''}"
        return Entry(0, "suspected", text, cycle=finding.since_cycle, details=details)

    def place(self, row: SignalLevels) -> tuple[int, str] | None:
        finding = row.finding
        return None if finding is None or finding.since_cycle is None else (finding.since_cycle, finding.title)

    def figures(self) -> tuple[tuple[str, QWidget], ...]:
        return ("levels", self.plot), ("margins", self.margins)

    def status(self) -> str:
        row = self.row()
        if row is None:
            return ""
        parts = []
        found = self.violation()
        if found is not None:
            where = "not matched" if found.cycle is None else f"cycle {group_digits(found.cycle)}"
            parts.append(f"{found.kind} at {where}, {format_volts(found.volts)} on the {found.side} side")
        parts += shift_words(row)
        if row.condition:
            parts.append(f"only while {row.condition} is {'high' if row.condition_high else 'low'}")
        return f"{row.signal} · " + " · ".join(parts) if parts else row.signal
