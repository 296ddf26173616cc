"""The probe sheet as a table that can be edited; a row for every channel of the case."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING, Any

from PySide6.QtCore import QAbstractTableModel, QModelIndex, QPersistentModelIndex, Qt, Signal

from app.case.changes import SetSheet
from app.case.record import SIDES
from app.model.capture_cards import LeadMark, all_offers, lead_marks
from app.model.lead_offers import LeadOffer
from app.model.plain_tip import plain_tip
from app.model.theme import LIGHT, Theme
from tracecore.circuit.probe_sheet import Probe, ProbeSheet
from tracecore.errors import RequestError, SheetError

if TYPE_CHECKING:
    from app.model.session import Session

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
    """Edits go to the session as a change, so that undo takes them back; ``refused`` says why a cell was not taken."""

    refused = Signal(str)

    def __init__(self, session: Session, theme: Theme = LIGHT) -> None:
        super().__init__()
        self._session, self._theme = session, theme
        self._rows: tuple[Probe, ...] = ()
        self._marks: dict[str, tuple[LeadMark, ...]] = {}
        self._called: dict[str, str] = {}
        self.offers: tuple[LeadOffer, ...] = ()
        self.refresh()
        session.listen(self._on_session)

    def _on_session(self, what: str) -> None:
        if what in ("case", "checkups"):
            self.refresh()

    def refresh(self) -> None:
        """Takes the rows from the session: those of the sheet, then channels that it does not name."""
        case = self._session.case
        channels: dict[str, None] = {}
        for side in SIDES:
            for capture in case.side(side).captures:
                channels.update(dict.fromkeys(capture.channels))
        extra = tuple(Probe(c, c) for c in channels if not case.sheet.named(c))
        rows = (*case.sheet.probes, *extra)
        self._called = {
            name: f"{capture.name} calls it {own}"
            for side in SIDES
            for capture in case.side(side).captures
            for own, name in capture.called
        }
        marks = lead_marks(self._session)
        self.offers = all_offers(self._session)
        if (rows, marks) == (self._rows, self._marks):
            return
        self._marks = marks
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

    def row_of(self, channel: str) -> int | None:
        """The row of a channel; None where it has none."""
        return next((i for i, probe in enumerate(self._rows) if probe.channel == channel), None)

    def set_theme(self, theme: Theme) -> None:
        """Takes the colours of accused rows."""
        self._theme = theme
        if self._rows:
            self.dataChanged.emit(self.index(0, 0), self.index(len(self._rows) - 1, len(COLUMNS) - 1))

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
        marks = self._marks.get(probe.channel, ())
        if role == Qt.ItemDataRole.DisplayRole and index.column() in (0, len(COLUMNS) - 1):
            return marked_text(probe, COLUMNS[index.column()][0], marks)
        if any(mark.kind == "look" for mark in marks) and role in _LOOKS:
            return self._look(role, index.column())
        if role == Qt.ItemDataRole.ToolTipRole and marks:
            return plain_tip("\n".join(mark.text for mark in marks))
        if role in (Qt.ItemDataRole.DisplayRole, Qt.ItemDataRole.EditRole):
            text = cell_text(probe, COLUMNS[index.column()][0])
            return text or ("–" if role == Qt.ItemDataRole.DisplayRole else "")
        if role == Qt.ItemDataRole.ToolTipRole and probe.channel in self._called:
            return plain_tip(self._called[probe.channel])
        if role == Qt.ItemDataRole.ToolTipRole and not self._session.case.sheet.named(probe.channel):
            return "Not on the sheet yet: the channel serves as its own signal name."
        return None

    def _look(self, role: int, column: int) -> Any:
        """An accused row: khaki, bold channel and note, the note in ochre."""
        from PySide6.QtGui import QColor, QFont

        if role == Qt.ItemDataRole.BackgroundRole:
            return QColor(self._theme.band_faint)
        if column not in (0, len(COLUMNS) - 1):
            return None
        if role == Qt.ItemDataRole.ForegroundRole:
            return QColor(self._theme.warning_text)
        font = QFont()
        font.setBold(True)
        return font

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
            sheet = ProbeSheet(tuple(rows), self._session.case.sheet.path)
        except (SheetError, RequestError) as error:
            self.refused.emit(str(error))
            return False
        self._session.change(SetSheet(sheet))
        return True


_LOOKS = (Qt.ItemDataRole.BackgroundRole, Qt.ItemDataRole.ForegroundRole, Qt.ItemDataRole.FontRole)


def marked_text(probe: Probe, column: str, marks: tuple[LeadMark, ...]) -> str:
    """Channel and note with what a check-up says: a triangle before the channel, its words before the note."""
    text = cell_text(probe, column)
    if column == "channel":
        return f"▲ {text}" if any(mark.kind == "look" for mark in marks) else text
    return " · ".join([*(mark.text for mark in marks), *([text] if text else [])]) or "–"


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
    changed: dict[str, Any] = {column: text}
    return replace(probe, **changed)
