"""Step 6, Backplane: pins and readings of both crates on one page, and what to read next; the chip as a second view."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

from PySide6.QtCore import Qt
from PySide6.QtGui import QShowEvent
from PySide6.QtWidgets import (
    QButtonGroup,
    QFileDialog,
    QFrame,
    QHBoxLayout,
    QLineEdit,
    QPushButton,
    QScrollArea,
    QSplitter,
    QStackedWidget,
    QVBoxLayout,
    QWidget,
)

from app.case.circuit_changes import AddReadings, SetPinList
from app.model.crate import PIN_VERDICTS, BackplaneView, PinVerdict, backplane_view
from app.pages.backplane_chip import ChipPane
from app.pages.page import Page, PageContext
from app.report.continuity_words import POWER_OFF, pin_fault_words
from app.widgets.backplane.net_panel import NetPanel
from app.widgets.backplane.pin_shapes import pin_icon
from app.widgets.backplane.readings_table import ReadingsTable
from app.widgets.backplane.slot_map import SlotMap
from app.widgets.controls.label import label
from app.widgets.controls.pick_button import PickButton
from app.widgets.controls.tip import set_tip
from app.widgets.controls.wrap_row import WrapRow
from tracecore.circuit.continuity.comparison import VERDICTS, Verdict
from tracecore.circuit.continuity.pin_name import pin_name
from tracecore.circuit.continuity.plan import MeasuringPlan, plan_between, plan_of, read_meter
from tracecore.circuit.continuity.readings import CARD_IN, Reading, parse_ohms, read_continuity
from tracecore.circuit.pin_list import PinList, read_pin_list
from tracecore.errors import TwinslotError

_FILTERS: dict[str, Verdict | None] = {"All": None, **{verdict.capitalize(): verdict for verdict in VERDICTS}}


LEAST_MAP, LEAST_TABLE = 200, 70
"""Pixels of height at text of 100 %; below that the column scrolls."""


class BackplanePage(Page):
    """Slot map, continuity table and the chosen net; or one chip."""

    def __init__(self, context: PageContext) -> None:
        super().__init__(context)
        self.chosen = ""
        self._signal: str | None = None
        self.view: BackplaneView | None = None
        self.map, self.table, self.net_panel = SlotMap(), ReadingsTable(), NetPanel()
        self.chip = ChipPane(context)
        layout = QVBoxLayout(self)
        layout.setContentsMargins(14, 10, 14, 8)
        layout.addLayout(self._head())
        self.stack = QStackedWidget()
        self.stack.addWidget(self._crate_view())
        self.stack.addWidget(self.chip)
        layout.addWidget(self.stack, 1)
        self.map.chosen.connect(self.choose_pin)
        self.table.chosen.connect(self._on_row)
        self.table.typed.connect(self._on_typed)
        self.net_panel.typed.connect(self._on_next_typed)
        self.net_panel.plan_wanted.connect(self.ask_plan)
        self.retheme()
        self.refresh("case")

    # ---- the parts

    def _head(self) -> QHBoxLayout:
        row = QHBoxLayout()
        self.title = label("Backplane", "heading", wrap=False)
        row.addWidget(self.title)
        row.addStretch(1)
        self.crate_button = self._switch(row, "Crate", "The crate with its slots", True)
        self.chip_button = self._switch(row, "Chip", "One chip of the pin list and what it does", False)
        self.card_side = self._switch(row, "Card side", "Slot 1 at the left", False)
        self.wiring_side = self._switch(row, "Wiring side", "Slot 1 at the right", True)
        for pair, slot in (
            ((self.crate_button, self.chip_button), self._turn_page),
            ((self.card_side, self.wiring_side), self._turn_crate),
        ):
            group = QButtonGroup(self)
            for button in pair:
                group.addButton(button)
            group.buttonToggled.connect(slot)
        self.go_to = QLineEdit()
        self.go_to.setPlaceholderText("Go to pin, such as 7-B04")
        self.go_to.setAccessibleName("Go to pin")
        self.go_to.setMaximumWidth(230)
        self.go_to.returnPressed.connect(self._on_go_to)
        row.addWidget(self.go_to)
        return row

    def _switch(self, row: QHBoxLayout | WrapRow, text: str, tip: str, checked: bool) -> QPushButton:
        button = PickButton(text, tip, checked)
        row.addWidget(button)
        return button

    def _crate_view(self) -> QWidget:
        left = QWidget()
        inside = QVBoxLayout(left)
        inside.setContentsMargins(0, 0, 0, 0)
        inside.addLayout(self._legend())
        below = QWidget()
        readings = QVBoxLayout(below)
        readings.setContentsMargins(0, 0, 0, 0)
        # it cannot be sent away, and stands wherever ohms are read
        self.caution = label(f"▲ {POWER_OFF}", "warning")
        readings.addLayout(self._filters())
        readings.addWidget(self.table, 1)
        upright = QSplitter(Qt.Orientation.Vertical)
        upright.addWidget(self.map)
        upright.addWidget(below)
        upright.setStretchFactor(0, 3)
        upright.setStretchFactor(1, 2)
        # outside the splitter, which would cut its lines
        inside.addWidget(self.caution)
        inside.addWidget(upright, 1)
        across = QSplitter(Qt.Orientation.Horizontal)
        across.addWidget(_scrolled(left))
        self.net_area = _scrolled(self.net_panel)
        across.addWidget(self.net_area)
        across.setStretchFactor(0, 3)
        across.setStretchFactor(1, 1)
        across.setSizes([900, 340])
        return across

    def _legend(self) -> WrapRow:
        """The legend is the filter: a verdict pressed out is not drawn."""
        row = WrapRow()
        self.legend: dict[PinVerdict, QPushButton] = {}
        for verdict in PIN_VERDICTS:
            button = self._switch(row, verdict, "Shown on the map; press to leave it out", True)
            button.setIcon(pin_icon(verdict, self.context.theme))
            button.toggled.connect(self._on_legend)
            self.legend[verdict] = button
        self.side_words = label("", "muted", wrap=False)
        row.addWidget(self.side_words)
        return row

    def _fit_net(self) -> None:
        """The net's words and fields are never cut at their side."""
        room = self.net_area.verticalScrollBar().sizeHint().width() + 4
        self.net_area.setMinimumWidth(self.net_panel.minimumSizeHint().width() + room)

    def showEvent(self, event: QShowEvent) -> None:
        super().showEvent(event)
        # sizes are known only once the style has its fonts
        self._fit_net()

    def _on_legend(self) -> None:
        hidden = frozenset(verdict for verdict, button in self.legend.items() if not button.isChecked())
        self.map.hidden_verdicts = hidden
        self.map.update()

    def _filters(self) -> QHBoxLayout:
        row = QHBoxLayout()
        self.filters: dict[str, PickButton] = {}
        group = QButtonGroup(self)
        for name in _FILTERS:
            pick = PickButton(name, checked=name == "All")
            group.addButton(pick)
            pick.clicked.connect(self._on_filter)
            self.filters[name] = pick
            row.addWidget(pick)
        row.addStretch(1)
        for text, tip, does in (
            ("Readings…", "Take the readings of a continuity list", self.ask_readings),
            ("Meter…", "Take what a logging meter wrote, in the plan's order", self.ask_meter),
            ("Pin list…", "Open a pin list: which pin is on which net, and the chip behind it", self.ask_pins),
        ):
            button = QPushButton(text)
            set_tip(button, tip)
            button.clicked.connect(does)
            row.addWidget(button)
        return row

    # ---- following the session

    def refresh(self, what: str) -> None:
        """Follows the case, the comparison, and the chosen signal."""
        session = self.context.session
        signal = session.chosen.signal
        if signal != self._signal:
            self._signal = signal
            probe = next((p for p in session.case.sheet.probes if p.signal == signal), None)
            if probe is not None and probe.slot and probe.pin:
                self.chosen = f"{probe.slot}-{probe.pin}"
        if what in ("case", "comparison", "chosen"):
            self._show()

    def retheme(self) -> None:
        """Takes colours and text size."""
        self.map.set_theme(self.context.theme, self.context.scale)
        self.map.setMinimumHeight(round(LEAST_MAP * self.context.scale))
        self.table.setMinimumHeight(round(LEAST_TABLE * self.context.scale))
        for verdict, button in self.legend.items():
            button.setIcon(pin_icon(verdict, self.context.theme))
        self.chip.retheme()

    def _show(self) -> None:
        session = self.context.session
        case = session.case
        view = self.view = backplane_view(case, session.comparison, self.chosen)
        self.chosen = view.chosen
        unit = case.suspect_unit.name or "Suspect crate"
        self.title.setText(f"{unit}, seen from the {'wiring' if self.map.wiring else 'card'} side")
        for verdict, button in self.legend.items():
            button.setText(f"{verdict} {view.count(verdict)}")
            button.updateGeometry()
        self.side_words.setText(self.map.side_words)
        self.map.set_view(view)
        for name, wanted in _FILTERS.items():
            count = len(view.found.pairs) if wanted is None else view.found.count(wanted)
            self.filters[name].setText(f"{name} {count}")
            self.filters[name].setVisible(wanted is None or count > 0 or self.filters[name].isChecked())
        self.table.set_view(view)
        self.net_panel.set_view(view)
        self._fit_net()
        self.chip.refresh()
        self.said.emit(self.status())

    def status(self) -> str:
        """The chosen pin and what is known there."""
        spot = self.view.spot(self.view.chosen) if self.view is not None else None
        if spot is None or self.view is None:
            return "No pin is named yet: open a probe sheet, a pin list or readings"
        probed = sum(s.verdict != "not probed" for s in self.view.spots)
        net = f" · {spot.net}" if spot.net else ""
        return f"Pin {spot.name}{net}: {spot.words} · {probed} pins compared · ohms as read, the leads' own taken off"

    # ---- choosing

    def choose_pin(self, name: str) -> None:
        """Makes a pin the chosen one; its signal becomes the chosen signal everywhere."""
        self.chosen = name
        session = self.context.session
        spot = self.view.spot(name) if self.view is not None else None
        signals = {s.signal for s in session.comparison.signals} if session.comparison is not None else set()
        if spot is not None and spot.net in signals and spot.net != session.chosen.signal:
            self._signal = spot.net
            session.choose(signal=spot.net)
        self._show()

    def _on_row(self, name: str) -> None:
        if name != self.chosen and self.view is not None and self.view.spot(name):
            self.chosen = name
            self.map.set_view(self.view)

    def _on_go_to(self) -> None:
        try:
            name = pin_name(self.go_to.text())
        except ValueError:
            self.said.emit(f"{self.go_to.text()!r} is no pin. Write it as slot-pin, such as 7-B04.")
            return
        if self.view is None or self.view.spot(name) is None:
            self.said.emit(f"Nothing is known of pin {name}: neither sheet, pin list nor readings name it.")
            return
        self.go_to.clear()
        self.choose_pin(name)

    def _on_filter(self) -> None:
        self.table.only = next(_FILTERS[name] for name, button in self.filters.items() if button.isChecked())
        if self.view is not None:
            self.table.set_view(self.view)

    def _turn_crate(self) -> None:
        self.map.set_side(wiring=self.wiring_side.isChecked())
        self._show()

    def _turn_page(self) -> None:
        chip = self.chip_button.isChecked()
        self.stack.setCurrentIndex(int(chip))
        for button in (self.card_side, self.wiring_side, self.go_to):
            button.setVisible(not chip)
        if chip:
            self.chip.refresh()

    # ---- readings

    def _on_typed(self, start: str, end: str, card_in: bool, text: str) -> None:
        self._enter(start, end, text, CARD_IN if card_in else "")

    def _on_next_typed(self, text: str) -> None:
        step = self.view.step if self.view is not None else None
        if step is not None:
            self._enter(step.start, step.end, text, CARD_IN if step.kind == "ground card in" else "")

    def _enter(self, start: str, end: str, text: str, note: str) -> None:
        from app.case.values import now

        try:
            ohms = parse_ohms(text)
        except ValueError:
            self.said.emit(f"{text!r} is no reading. Type a number with k or M, or open.")
            self._show()
            return
        author = self.context.session.author
        reading = Reading(start, end, ohms, "suspect", now()[:10], author, note)
        if self.context.session.change(AddReadings((reading,))):
            self.said.emit(f"{start} to {end} reads {text} on suspect; Ctrl+Z takes it back")

    def _take(self, read: Callable[[], None]) -> None:
        try:
            read()
        except TwinslotError as error:
            self.said.emit(str(error))

    def ask_readings(self) -> None:
        """Asks for a continuity list with both sides."""
        path, _ = QFileDialog.getOpenFileName(self, "Continuity list", "", "CSV (*.csv);;All files (*)")
        if path:
            self._take(lambda: self.open_readings(path))

    def open_readings(self, path: str | Path) -> None:
        """Takes the readings of a list into the case. Raises SheetError where it cannot be read."""
        found = read_continuity(path)
        leads = found.good_leads_ohms or None, found.suspect_leads_ohms or None
        self.context.session.change(AddReadings(found.readings, *leads))
        self.said.emit(f"{len(found.readings)} readings of {Path(path).name} taken; Ctrl+Z takes them back")

    def ask_pins(self) -> None:
        """Asks for a pin list."""
        path, _ = QFileDialog.getOpenFileName(self, "Pin list", "", "CSV (*.csv);;All files (*)")
        if path:
            self._take(lambda: self.open_pins(path))

    def open_pins(self, path: str | Path) -> None:
        """Takes a pin list into the case. Raises SheetError where it cannot be read."""
        pins = read_pin_list(path)
        self.context.session.change(SetPinList(pins))
        faults = pins.faults()
        said = pin_fault_words(faults[0]) if faults else "nothing in it contradicts itself"
        self.said.emit(f"{Path(path).name}: {len(pins.nets)} nets; {said}")

    @property
    def plan(self) -> MeasuringPlan:
        """What is to be measured: what the readings lack, or else every pin of the chosen pin's slot."""
        case = self.context.session.case
        assert self.view is not None
        plan = plan_of(self.view.found.pairs)
        if plan.rows:
            return plan
        slot = self.view.chosen.partition("-")[0]
        return plan_between((case.pins or PinList()).slot_pairs(slot), case.continuity)

    def ask_meter(self) -> None:
        """Asks for what a logging meter wrote for the plan."""
        path, _ = QFileDialog.getOpenFileName(self, "Readings of a logging meter", "", "CSV (*.csv);;All files (*)")
        if path:
            self._take(lambda: self.open_meter(path))

    def open_meter(self, path: str | Path) -> None:
        """Takes a meter's readings in the plan's order. Raises SheetError where they do not fit it."""
        readings = read_meter(path, self.plan, by=self.context.session.author)
        self.context.session.change(AddReadings(readings))
        self.said.emit(f"{len(readings)} readings of {Path(path).name} taken; Ctrl+Z takes them back")

    def ask_plan(self) -> None:
        """Asks where to write the plan, and writes it."""
        path, _ = QFileDialog.getSaveFileName(self, "Measuring plan", "measuring_plan.pdf", "PDF (*.pdf)")
        if path:
            self.write_plan(path)

    def write_plan(self, path: str | Path) -> None:
        """Writes the plan as a PDF."""
        from app.case.values import now
        from app.report.measuring_plan import plan_pdf

        plan = self.plan
        title = f"{self.context.session.case.named} · pin {self.chosen}"
        try:
            Path(path).write_bytes(plan_pdf(plan, title, printed=now()[:10]))
        except OSError as error:
            self.said.emit(f"{path}: cannot be written ({error.strerror or error}). Choose another place.")
            return
        self.said.emit(f"Written: {path}, {len(plan.rows)} rows")


def _scrolled(widget: QWidget) -> QScrollArea:
    """A column that scrolls where its words are longer than the window is high, and is never cut at its side."""
    area = QScrollArea()
    area.setWidgetResizable(True)
    area.setFrameShape(QFrame.Shape.NoFrame)
    area.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAsNeeded)
    area.setWidget(widget)
    return area
