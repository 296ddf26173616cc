"""The probe sheet as a table that can be edited; a row for every channel on the bench."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING, Any

from PySide6.QtCore import QAbstractTableModel, QModelIndex, QPersistentModelIndex, Qt, Signal

from app.case.changes import SetSheet
from app.case.record import SIDES
from tracecore.circuit.probe_sheet import Probe, ProbeSheet
from tracecore.errors import RequestError, SheetError

if TYPE_CHECKING:
    from app.model.bench import Bench

COLUMNS: tuple[tuple[str, str], ...] = (
    ("channel", "Channel"),
    ("signal", "Signal"),
    ("place", "Pin"),
    ("active", "Active"),
    ("family", "Family"),
    ("bus", "Bus"),
    ("bit", "Bit"),
    ("driver", "Driven from"),
    ("note", "Note"),
)
Index = QModelIndex | QPersistentModelIndex


class SheetTable(QAbstractTableModel):
    """Edits go to the bench as a change, so that undo takes them back; ``refused`` says why a cell was not taken."""

    refused = Signal(str)

    def __init__(self, bench: Bench) -> None:
        super().__init__()
        self._bench = bench
        self._rows: tuple[Probe, ...] = ()
        self.refresh()
        bench.listen(self._on_bench)

    def _on_bench(self, what: str) -> None:
        if what == "case":
            self.refresh()

    def refresh(self) -> None:
        """Takes the rows from the bench: those of the sheet, then channels that it does not name."""
        case = self._bench.case
        channels: dict[str, None] = {}
        for side in SIDES:
            for capture in case.side(side).captures:
                channels.update(dict.fromkeys(capture.channels))
        extra = tuple(Probe(c, c) for c in channels if not case.sheet.named(c))
        rows = (*case.sheet.probes, *extra)
        if rows == self._rows:
            return
        same_shape = len(rows) == len(self._rows)
        if same_shape:
            self._rows = rows
            self.dataChanged.emit(self.index(0, 0), self.index(len(rows) - 1, len(COLUMNS) - 1))
            return
        self.beginResetModel()
        self._rows = rows
        self.endResetModel()

    def probe_at(self, row: int) -> Probe:
        """The probe of a row."""
        return self._rows[row]

    def rowCount(self, parent: Index = QModelIndex()) -> int:  # noqa: B008
        return 0 if parent.isValid() else len(self._rows)

    def columnCount(self, parent: Index = QModelIndex()) -> int:  # noqa: B008
        return 0 if parent.isValid() else len(COLUMNS)

    def headerData(self, section: int, orientation: Qt.Orientation, role: int = 0) -> Any:
        if role != Qt.ItemDataRole.DisplayRole:
            return None
        return COLUMNS[section][1] if orientation == Qt.Orientation.Horizontal else str(section + 1)

    def data(self, index: Index, role: int = 0) -> Any:
        probe = self._rows[index.row()]
        if role in (Qt.ItemDataRole.DisplayRole, Qt.ItemDataRole.EditRole):
            text = cell_text(probe, COLUMNS[index.column()][0])
            return text or ("–" if role == Qt.ItemDataRole.DisplayRole else "")
        if role == Qt.ItemDataRole.ToolTipRole and not self._bench.case.sheet.named(probe.channel):
            return "Not on the sheet yet: the channel serves as its own signal name."
        return None

    def flags(self, index: Index) -> Qt.ItemFlag:
        base = Qt.ItemFlag.ItemIsEnabled | Qt.ItemFlag.ItemIsSelectable
        return base if index.column() == 0 else base | Qt.ItemFlag.ItemIsEditable

    def setData(self, index: Index, value: Any, role: int = Qt.ItemDataRole.EditRole) -> bool:
        if role != Qt.ItemDataRole.EditRole:
            return False
        rows = list(self._rows)
        try:
            rows[index.row()] = edited(rows[index.row()], COLUMNS[index.column()][0], str(value).strip())
            if rows[index.row()] == self._rows[index.row()]:
                return True
            sheet = ProbeSheet(tuple(rows), self._bench.case.sheet.path)
        except (SheetError, RequestError) as error:
            self.refused.emit(str(error))
            return False
        self._bench.change(SetSheet(sheet))
        return True


def cell_text(probe: Probe, column: str) -> str:
    """One cell in words; slot and pin are one cell, ``7-B04``."""
    if column == "place":
        return "-".join(part for part in (probe.slot, probe.pin) if part)
    value = getattr(probe, column)
    return "" if value is None else str(value)


def edited(probe: Probe, column: str, text: str) -> Probe:
    """The probe with one cell changed. Raises RequestError, one sentence, where the text cannot be taken."""
    if column == "place":
        slot, dash, pin = text.partition("-")
        return replace(probe, slot=slot if dash else "", pin=pin if dash else text)
    if column == "signal" and not text:
        raise RequestError(f"Channel {probe.channel}: found an empty signal name; expected a name. Type one.")
    if column == "active":
        if text.lower() not in ("high", "low"):
            raise RequestError(
                f"Channel {probe.channel}: found active {text!r}; expected high or low. Type one of these."
            )
        return replace(probe, active=text.lower())
    if column == "bit":
        if text and not text.isdecimal():
            raise RequestError(f"Channel {probe.channel}: found bit {text!r}; expected a whole number from 0 on.")
        return replace(probe, bit=int(text) if text else None)
    if column == "family" and text:
        from tracecore.measure.families import family

        family(text)
    return replace(probe, **{column: text})
