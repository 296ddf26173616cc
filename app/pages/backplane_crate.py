"""The crate on the Backplane page: slot map of either crate, continuity table, the chosen net and what to read next."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

from PySide6.QtCore import QSize, Qt, Signal
from PySide6.QtGui import QShowEvent
from PySide6.QtWidgets import (
    QButtonGroup,
    QFileDialog,
    QLineEdit,
    QPushButton,
    QSplitter,
    QVBoxLayout,
    QWidget,
)

from app.case.circuit_changes import AddReadings, SetPinList
from app.case.values import now
from app.model.circuit_lines import net_line
from app.model.crate import PIN_VERDICTS, BackplaneView, PinVerdict, backplane_view, no_pin_words, pin_of_signal
from app.model.log_changes import line_change
from app.model.page_context import PageContext
from app.report.continuity_words import POWER_OFF, pin_fault_words
from app.widgets.backplane.net_panel import NetPanel
from app.widgets.backplane.pin_shapes import ICON, pin_icon
from app.widgets.backplane.readings_table import ReadingsTable
from app.widgets.backplane.slot_map import SlotMap
from app.widgets.controls.forms import open_form
from app.widgets.controls.label import label
from app.widgets.controls.pick_button import PickButton
from app.widgets.controls.scrolled_column import AsHighAsItsWidthAsks, scrolled_column
from app.widgets.controls.tip import set_tip
from app.widgets.controls.wrap_row import WrapRow
from tracecore.circuit.continuity.comparison import VERDICTS, Verdict
from tracecore.circuit.continuity.pin_name import pin_name, slot_of
from tracecore.circuit.continuity.readings import CARD_IN, Reading, Side, parse_ohms, read_continuity
from tracecore.circuit.pin_list import read_pin_list
from tracecore.errors import TwinslotError

_FILTERS: dict[str, Verdict | None] = {"All": None, **{verdict.capitalize(): verdict for verdict in VERDICTS}}
LEAST_MAP = 190
"""Pixels of height at text of 100 %; below that the column scrolls."""


class CratePane(QWidget):
    """Emits ``said`` with a line for the bottom of the window, ``turned`` where the title has to follow."""

    said = Signal(str)
    turned = Signal()

    def __init__(self, context: PageContext) -> None:
        super().__init__()
        self.context = context
        self.chosen = ""
        self._signal: str | None = None
        self.view: BackplaneView | None = None
        self.map, self.table, self.net_panel = SlotMap(), ReadingsTable(), NetPanel()
        self.switches = self._switches()
        layout = QVBoxLayout(self)
        layout.setContentsMargins(0, 0, 0, 0)
        across = QSplitter(Qt.Orientation.Horizontal)
        across.addWidget(scrolled_column(self._left()))
        self.net_area = scrolled_column(self.net_panel)
        across.addWidget(self.net_area)
        across.setStretchFactor(0, 3)
        across.setStretchFactor(1, 1)
        across.setSizes([900, 330])
        layout.addWidget(across)
        self.map.chosen.connect(self.choose_pin)
        self.table.chosen.connect(self._on_row)
        self.table.readings.typed.connect(self._on_typed)
        self.net_panel.typed.connect(self._on_next_typed)
        self.net_panel.wanted.connect(self.choose_pin)
        self.net_panel.plan_wanted.connect(self.open_plan)
        self.net_panel.log_wanted.connect(self.write_in_log)
        self.net_panel.card_wanted.connect(lambda: context.act("bench_card"))
        self.net_panel.cause_wanted.connect(lambda: context.act("page_compare"))

    # ---- the parts

    def _left(self) -> QWidget:
        left = QWidget()
        inside = QVBoxLayout(left)
        inside.setContentsMargins(0, 0, 8, 0)
        inside.setSpacing(6)
        inside.addLayout(self._legend())
        upright = QSplitter(Qt.Orientation.Vertical)
        upright.addWidget(self.map)
        below = AsHighAsItsWidthAsks()
        readings = QVBoxLayout(below)
        readings.setContentsMargins(0, 0, 0, 0)
        readings.setSpacing(4)
        readings.addLayout(self._filters())
        readings.addWidget(self.table, 1)
        upright.addWidget(below)
        upright.setStretchFactor(0, 3)
        upright.setStretchFactor(1, 2)
        inside.addWidget(upright, 1)
        # outside the splitter, which would cut its lines; it cannot be sent away, and stands wherever ohms are read
        self.caution = label(f"▲ {POWER_OFF}", "warning")
        inside.addWidget(self.caution)
        return left

    def _switches(self) -> tuple[QWidget, ...]:
        """From where, which crate, and a pin by name; the page has them in its head."""
        self.go_to = QLineEdit()
        self.go_to.setPlaceholderText("Go to pin")
        set_tip(self.go_to, "A pin as slot-pin, such as 7-B04, then Enter")
        self.go_to.setAccessibleName("Go to pin")
        self.go_to.returnPressed.connect(self._on_go_to)
        self.card_side, self.wiring_side = self._pair(
            ("Card side", "Slot 1 at the left"), ("Wiring side", "Slot 1 at the right"), self._turn
        )
        self.good_crate, self.suspect_crate = self._pair(
            ("Good", "The known-good crate"), ("Suspect", "The suspect crate"), self.show_view
        )
        return self.card_side, self.wiring_side, self.good_crate, self.suspect_crate, self.go_to

    def _legend(self) -> WrapRow:
        """The legend is the filter: a verdict pressed out is not drawn."""
        row = WrapRow(gap=6)
        self.legend: dict[PinVerdict, QPushButton] = {}
        for verdict in PIN_VERDICTS:
            button = PickButton(verdict, "Shown on the map; press to leave it out", True)
            button.toggled.connect(self._on_legend)
            self.legend[verdict] = button
            row.addWidget(button)
        row.addWidget(_small("Crate…", "Describe the crate: slots, rows, pins a row, names", self.open_crate_form))
        return row

    def _pair(
        self, one: tuple[str, str], other: tuple[str, str], does: Callable[[], None]
    ) -> tuple[QPushButton, QPushButton]:
        """Two buttons of which the second is chosen."""
        group = QButtonGroup(self)
        made = PickButton(*one, False), PickButton(*other, True)
        for button in made:
            group.addButton(button)
        group.buttonClicked.connect(lambda _button: does())
        return made

    def _filters(self) -> WrapRow:
        row = WrapRow()
        row.addWidget(label("Continuity", "heading", wrap=False))
        self.filters: dict[str, QPushButton] = {}
        group = QButtonGroup(self)
        for name in _FILTERS:
            button = PickButton(name, "Pairs with this verdict alone" if name != "All" else "Every pair", name == "All")
            group.addButton(button)
            button.clicked.connect(self._on_filter)
            self.filters[name] = button
            row.addWidget(button)
        row.addWidget(_small("Readings…", "Take the readings of a continuity list", self.ask_readings))
        row.addWidget(_small("Meter…", "What the leads read alone, and the limits of ohms", self.open_meter_form))
        return row

    def _fit_net(self) -> None:
        """The net's words and fields are never cut at their side."""
        room = self.net_area.verticalScrollBar().sizeHint().width() + 4
        self.net_area.setMinimumWidth(self.net_panel.minimumSizeHint().width() + room)

    def showEvent(self, event: QShowEvent) -> None:
        super().showEvent(event)
        # sizes are known only once the style has its fonts
        self._fit_net()

    def retheme(self) -> None:
        """Takes colours and text size."""
        theme, scale = self.context.theme, self.context.scale
        self.map.set_theme(theme, scale)
        self.map.setMinimumHeight(round(LEAST_MAP * scale))
        self.table.set_scale(scale)
        self.go_to.setFixedWidth(round(110 * scale))
        self.net_panel.set_theme(theme, scale)
        for verdict, button in self.legend.items():
            button.setIcon(pin_icon(verdict, theme, scale))
            button.setIconSize(QSize(round(ICON * scale), round(ICON * scale)))

    # ---- following the session

    def refresh(self, what: str) -> None:
        """Follows the case, the comparison, and the chosen signal."""
        session = self.context.session
        if what == "opened":
            self.chosen, self._signal = "", None
        if session.chosen.signal != self._signal:
            self._signal = session.chosen.signal
            self.chosen = pin_of_signal(session.case, self._signal)
        if what in ("case", "comparison", "chosen", "causes"):
            self.show_view()

    def to_chosen_signal(self) -> None:
        """Makes the chosen signal's pin the chosen one, and puts the keys on the map; says so where none is known."""
        session = self.context.session
        pin = pin_of_signal(session.case, session.chosen.signal)
        if pin:
            self.chosen = pin
            self.show_view()
            self.map.setFocus()
        elif session.chosen.signal:
            self.said.emit(no_pin_words(session.chosen.signal))

    @property
    def side(self) -> Side:
        """Which crate is shown."""
        return "good" if self.good_crate.isChecked() else "suspect"

    @property
    def title(self) -> str:
        """Which crate is seen."""
        case = self.context.session.case
        unit = case.unit(self.side).name or ("Known-good crate" if self.side == "good" else "Suspect crate")
        return unit

    def show_view(self) -> None:
        """Works the view out anew and shows it."""
        session = self.context.session
        case = session.case
        signal = session.chosen.signal
        own = pin_of_signal(case, signal) if signal else None
        view = self.view = backplane_view(case, session.comparison, self.chosen or own, self.side)
        self.chosen = view.chosen
        self.good_crate.setText(case.good_unit.name or "Good")
        self.suspect_crate.setText(case.suspect_unit.name or "Suspect")
        for verdict, button in self.legend.items():
            button.setText(f"{verdict} {view.count(verdict)}")
            button.updateGeometry()
        self.map.set_view(view)
        for name, only in _FILTERS.items():
            count = view.readings(only)
            self.filters[name].setText(f"{name} {count}")
            self.filters[name].setVisible(only is None or count > 0 or self.filters[name].isChecked())
        self.table.set_view(view)
        lacking = no_pin_words(signal) if signal and not view.chosen else ""
        self.net_panel.set_view(view, session.comparison, session.chosen.cycle, lacking)
        self._fit_net()
        self.turned.emit()
        self.said.emit(self.status())

    def status(self) -> str:
        """The chosen pin and what is known there."""
        spot = self.view.spot(self.view.chosen) if self.view is not None else None
        if self.view is not None and spot is None and self.view.net:
            return f"{self.view.chosen} · {self.view.net}: a leg, so it has no place on the map"
        if self.view is not None and spot is None and self.context.session.chosen.signal:
            return no_pin_words(self.context.session.chosen.signal)
        if spot is None or self.view is None:
            return "No pin is named yet: open a probe sheet, a pin list or readings"
        probed = sum(s.verdict != "not probed" for s in self.view.spots)
        net = f" · {spot.net}" if spot.net else ""
        outside = f" · named pins outside this crate: {self.view.outside}" if self.view.outside else ""
        told = f"Pin {spot.name}{net}: {spot.words} · {probed} pins compared{outside}"
        return f"{told} · ohms as read, the leads' own taken off"

    # ---- choosing

    def choose_pin(self, name: str) -> None:
        """Makes a pin the chosen one; its signal becomes the chosen signal everywhere."""
        self.chosen = name
        session = self.context.session
        spot = self.view.spot(name) if self.view is not None else None
        if spot is not None and spot.signal and spot.signal != session.chosen.signal:
            self._signal = spot.signal
            # the session tells all pages, this one too
            session.choose(signal=spot.signal)
        else:
            self.show_view()

    def _on_row(self, name: str) -> None:
        if name != self.chosen and self.view is not None and self.view.spot(name):
            self.chosen = name
            self.show_view()

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
        self.map.setFocus()

    def _on_filter(self) -> None:
        self.table.only = next(_FILTERS[name] for name, button in self.filters.items() if button.isChecked())
        if self.view is not None:
            self.table.set_view(self.view)

    def _on_legend(self) -> None:
        hidden = frozenset(verdict for verdict, button in self.legend.items() if not button.isChecked())
        self.map.hidden_verdicts = hidden
        self.map.update()

    def _turn(self) -> None:
        self.map.set_side(wiring=self.wiring_side.isChecked())
        self.turned.emit()

    # ---- readings

    def _on_typed(self, start: str, end: str, card_in: bool, side: Side, text: str) -> None:
        self._enter(start, end, text, CARD_IN if card_in else "", side)

    def _on_next_typed(self, text: str) -> None:
        step = self.view.step if self.view is not None else None
        if step is not None:
            self._enter(step.start, step.end, text, CARD_IN if step.kind == "ground card in" else "", "suspect")

    def _enter(self, start: str, end: str, text: str, note: str, side: Side) -> None:
        try:
            ohms = parse_ohms(text)
        except ValueError:
            self.said.emit(f"{text!r} is no reading. Type a number with k or M, or open.")
            return
        author = self.context.session.author
        reading = Reading(start, end, ohms, side, now()[:10], author, note)
        if self.context.session.change(AddReadings((reading,))):
            self.said.emit(f"{start} to {end} reads {text} on {side}; Ctrl+Z takes it back")

    def write_in_log(self) -> None:
        """Takes the readings of the chosen net down, as measured."""
        session = self.context.session
        entry = net_line(self.view, session.author, session.chosen.cycle) if self.view is not None else None
        if entry is None:
            self.said.emit("Nothing was read on this net on suspect yet: type a reading first")
        elif session.change(line_change(session.case, entry)):
            self.said.emit(f"Written in the log as entry {session.case.entries[-1].id}; Ctrl+Z takes it back")

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

    def open_pins(self, path: str | Path) -> None:
        """Takes a pin list into the case. Raises SheetError where it cannot be read."""
        pins = read_pin_list(path)
        self.context.session.change(SetPinList(pins))
        faults = pins.faults()
        said = pin_fault_words(faults[0]) if faults else "nothing in it contradicts itself"
        self.said.emit(f"{Path(path).name}: {len(pins.nets)} nets; {said}")

    # ---- forms

    def open_plan(self) -> None:
        """Opens the measuring plan: a sheet to print, readings typed back by number, or from a meter's file."""
        from app.widgets.backplane.plan_form import PlanForm

        self.plan_form = PlanForm(self.context.session, slot_of(self.chosen), self)
        self.plan_form.said.connect(self.said)
        open_form(self.plan_form)

    def open_meter_form(self) -> None:
        """Opens the form of the meter's leads and the limits."""
        from app.widgets.backplane.meter_form import MeterForm

        self.meter_form = MeterForm(self.context.session, self)
        open_form(self.meter_form)

    def open_crate_form(self) -> None:
        """Opens the form that describes the crate."""
        from app.widgets.backplane.crate_form import CrateForm

        assert self.view is not None
        self.crate_form = CrateForm(self.context.session, self.view.crate, self)
        open_form(self.crate_form)


def _small(text: str, tip: str, does: Callable[[], None]) -> QPushButton:
    button = QPushButton(text)
    button.setProperty("small", True)
    set_tip(button, tip)
    button.clicked.connect(does)
    return button
