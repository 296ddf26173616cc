"""Pin list and wire list as tables that can be edited; every edit is a change of the case, so that undo takes it back.

The last line is empty: what is typed there waits until it makes a row.
"""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING, Any

from PySide6.QtCore import QAbstractTableModel, QModelIndex, QPersistentModelIndex, Qt, Signal

from app.case.change import Change
from app.case.circuit_changes import SetPinList, SetWireList
from tracecore.circuit import pin_list, wire_list
from tracecore.circuit.pin_list import PinList, parse_pin_list, write_pin_list
from tracecore.circuit.wire_list import WireList, parse_wire_list, write_wire_list
from tracecore.errors import SheetError

if TYPE_CHECKING:
    from app.model.session import Session

Index = QModelIndex | QPersistentModelIndex
Cells = tuple[str, ...]


class ListTable(QAbstractTableModel):
    """``told`` says why a cell was not taken, or what the new row still lacks; empty where all is well."""

    told = Signal(str)
    columns: tuple[str, ...] = ()

    def __init__(self, session: Session) -> None:
        super().__init__()
        self._session = session
        self._rows: tuple[Cells, ...] = ()
        self._draft: list[str] = [""] * len(self.columns)
        self.refresh()

    # ---- what each list knows of itself

    def kept(self) -> tuple[Cells, ...]:
        """The rows of the case's list as cells."""
        raise NotImplementedError

    def change_to(self, rows: tuple[Cells, ...], edited: int | None) -> Change:
        """The change that keeps these rows, of which ``edited`` is new. Raises SheetError where a row is none."""
        raise NotImplementedError

    # ---- the table

    def refresh(self) -> None:
        """Takes the rows from the session."""
        rows = self.kept()
        if rows != self._rows:
            self.beginResetModel()
            self._rows = rows
            self.endResetModel()

    def rowCount(self, parent: Index = QModelIndex()) -> int:  # noqa: B008
        return 0 if parent.isValid() else len(self._rows) + 1

    def columnCount(self, parent: Index = QModelIndex()) -> int:  # noqa: B008
        return 0 if parent.isValid() else len(self.columns)

    def headerData(self, section: int, orientation: Qt.Orientation, role: int = 0) -> Any:
        if role != Qt.ItemDataRole.DisplayRole:
            return None
        if orientation == Qt.Orientation.Horizontal:
            return self.columns[section].replace("_", " ").capitalize()
        # as a file has it: the heading is line 1
        return str(section + 2) if section < len(self._rows) else "new"

    def data(self, index: Index, role: int = 0) -> Any:
        if role not in (Qt.ItemDataRole.DisplayRole, Qt.ItemDataRole.EditRole):
            return None
        cells = self._rows[index.row()] if index.row() < len(self._rows) else self._draft
        return cells[index.column()]

    def flags(self, index: Index) -> Qt.ItemFlag:
        return Qt.ItemFlag.ItemIsEnabled | Qt.ItemFlag.ItemIsSelectable | Qt.ItemFlag.ItemIsEditable

    def setData(self, index: Index, value: Any, role: int = Qt.ItemDataRole.EditRole) -> bool:
        if role != Qt.ItemDataRole.EditRole:
            return False
        row, text = index.row(), str(value).strip()
        fresh = row >= len(self._rows)
        cells = list(self._draft if fresh else self._rows[row])
        if cells[index.column()] == text:
            return True
        cells[index.column()] = text
        if fresh:
            self._draft = cells
        rows = (*self._rows, tuple(cells)) if fresh else (*self._rows[:row], tuple(cells), *self._rows[row + 1 :])
        try:
            change = self.change_to(rows, row)
        except SheetError as error:
            self.told.emit(f"{'The new row waits: ' if fresh else ''}{_sentence(error)}")
            return fresh
        if fresh:
            self._draft = [""] * len(self.columns)
        self.told.emit("")
        self._session.change(change)
        return True

    def remove(self, rows: set[int]) -> None:
        """Takes rows out; the empty line at the end loses what was typed in it."""
        if len(self._rows) in rows:
            self._draft = [""] * len(self.columns)
        left = tuple(cells for index, cells in enumerate(self._rows) if index not in rows)
        if left != self._rows:
            self._session.change(self.change_to(left, None))

    def text(self) -> str:
        """The list as a file has it."""
        raise NotImplementedError


class PinTable(ListTable):
    """The pin list: a row a pin."""

    columns = pin_list.COLUMNS

    @property
    def pins(self) -> PinList:
        """The case's list, or an empty one."""
        return self._session.case.pins or PinList()

    def kept(self) -> tuple[Cells, ...]:
        return tuple(
            (r.net, r.slot, r.pin, f"{r.part} {r.number}".strip(), r.part_pin, r.direction, r.note)
            for r in self.pins.rows
        )

    def change_to(self, rows: tuple[Cells, ...], edited: int | None) -> Change:
        known = dict(zip(self._rows, self.pins.rows, strict=True))
        made = []
        for index, cells in enumerate(rows):
            row = known.get(cells) if index != edited else None
            if row is None:
                (row,) = parse_pin_list(_csv(self.columns, cells), "pin list").rows
            made.append(replace(row, line=index + 2))
        return SetPinList(PinList(tuple(made), self.pins.path) if made else None)

    def text(self) -> str:
        return write_pin_list(self.pins.rows)


class WireTable(ListTable):
    """The wire list: a row for each output of a part."""

    columns = wire_list.COLUMNS

    @property
    def wires(self) -> WireList:
        """The case's list, or an empty one."""
        return self._session.case.wire_list or WireList()

    def kept(self) -> tuple[Cells, ...]:
        return tuple((r.part, r.kind, r.output, " ".join(r.inputs)) for r in self.wires.rows)

    def change_to(self, rows: tuple[Cells, ...], edited: int | None) -> Change:
        if not rows:
            return SetWireList(None)
        text = _csv(self.columns, *rows)
        return SetWireList(replace(parse_wire_list(text, "wire list"), path=self.wires.path))

    def text(self) -> str:
        return write_wire_list(self.wires.rows)


def _csv(columns: tuple[str, ...], *rows: Cells) -> str:
    from tracecore.csv_cells import csv_text

    return csv_text(columns, rows)


def _sentence(error: SheetError) -> str:
    """What was found and what was expected; a table needs no path and no line."""
    return f"found {error.found}; expected {error.expected}. {error.do}"
