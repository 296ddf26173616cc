"""What the limits are judged under: the supply at the chips, and the bandwidth of the scope with its probe."""

from __future__ import annotations

from typing import TYPE_CHECKING

from PySide6.QtCore import Signal
from PySide6.QtWidgets import QGridLayout, QLineEdit, QWidget

from app.case.change import Change
from app.case.setting_changes import SetBandwidth, SetSupply
from app.widgets.controls.label import label
from app.widgets.controls.tip import set_tip
from tracecore.measure.instrument import instrument_transition_ps
from tracecore.quantities import format_rate, format_time, format_volts, parse_rate_hz, parse_volts
from tracecore.settings import HIGHEST_SUPPLY_V

if TYPE_CHECKING:
    from app.model.session import Session


class LevelConditions(QWidget):
    """Two boxes to type into; what cannot be read is told and changes nothing."""

    said = Signal(str)

    def __init__(self, session: Session) -> None:
        super().__init__()
        self._session = session
        grid = QGridLayout(self)
        grid.setContentsMargins(0, 0, 0, 0)
        self.supply, self.bandwidth = QLineEdit(), QLineEdit()
        self.trouble = label("", "warning")
        self.trouble.hide()
        self.limit = label("", "muted")
        for k, (words, box, tip, read) in enumerate(
            (
                ("Supply", self.supply, "Volts at the chips' own pins, such as 4.9 V", self._take_supply),
                ("Bandwidth", self.bandwidth, "Of the scope with its probe, such as 100 MHz", self._take_bandwidth),
            )
        ):
            grid.addWidget(label(words, "muted", wrap=False), k, 0)
            box.setAccessibleName(words)
            set_tip(box, f"{tip}; press Enter")
            box.setPlaceholderText("not known")
            box.editingFinished.connect(read)
            grid.addWidget(box, k, 1)
        grid.addWidget(self.trouble, 2, 0, 1, 2)
        grid.addWidget(self.limit, 3, 0, 1, 2)
        self.show_case()

    def show_case(self) -> None:
        """Shows what the case has."""
        settings = self._session.case.settings
        self.supply.setText(format_volts(settings.supply_v))
        hz = settings.bandwidth_hz
        self.bandwidth.setText("" if hz is None else format_rate(hz))
        fastest = "" if hz is None else format_time(round(instrument_transition_ps(hz)), digits=3)
        self.limit.setText(f"No transition reads shorter than {fastest} (0.35 / bandwidth)." if fastest else "")
        self.limit.setVisible(bool(fastest))

    def _take_supply(self) -> None:
        text = self.supply.text().strip()
        settings = self._session.case.settings
        if text == format_volts(settings.supply_v):
            self._tell("")
            return
        try:
            volts = parse_volts(text) if text else 5.0
        except ValueError:
            self._tell(f"Supply: found {text!r}; expected volts such as 4.9 V.")
            return
        if not 0 < volts <= HIGHEST_SUPPLY_V:
            self._tell(f"Supply: found {text!r}; expected a supply of logic, such as 4.9 V.")
            return
        self._keep(SetSupply(volts))

    def _take_bandwidth(self) -> None:
        text = self.bandwidth.text().strip()
        hz = self._session.case.settings.bandwidth_hz
        if text == ("" if hz is None else format_rate(hz)):
            self._tell("")
            return
        try:
            self._keep(SetBandwidth(float(parse_rate_hz(text)) if text else None))
        except ValueError:
            self._tell(f"Bandwidth: found {text!r}; expected a rate such as 100 MHz.")

    def _keep(self, change: Change) -> None:
        self._tell("")
        self._session.change(change)
        self.show_case()

    def _tell(self, sentence: str) -> None:
        self.trouble.setText(sentence)
        self.trouble.setVisible(bool(sentence))
        if sentence:
            self.said.emit(sentence)
