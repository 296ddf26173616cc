"""What each column of a file is taken for, and where it is said otherwise: kind and factor beside its first values."""

from __future__ import annotations

from PySide6.QtCore import Qt, Signal
from PySide6.QtGui import QColor, QFont, QWheelEvent
from PySide6.QtWidgets import (
    QAbstractItemView,
    QComboBox,
    QHeaderView,
    QLineEdit,
    QTableWidget,
    QTableWidgetItem,
    QVBoxLayout,
    QWidget,
)

from app.model.import_preview import Preview, TakenColumn
from app.model.theme import Theme
from app.widgets.controls.tip import set_tip
from app.widgets.forms.import_choices import factor_of
from tracecore.readers.plan.column_choice import ColumnChoice, parse_choice

HEADINGS = ("Column", "Is", "Volts times", "First values")
KIND_WORDS = (
    ("volts", "volts"),
    ("logic", "logic"),
    ("word", "bus words"),
    ("time", "the time"),
    ("leave out", "left out"),
)
WORDS = dict(KIND_WORDS)
WIDTHS = (150, 235, 110)


class KindBox(QComboBox):
    """What a column is; the first item leaves it to the file. The wheel scrolls the table, never the choice."""

    def __init__(self) -> None:
        super().__init__()
        self.setFocusPolicy(Qt.FocusPolicy.StrongFocus)
        self.addItem("", None)
        for kind, words in KIND_WORDS:
            self.addItem(words, kind)

    def show_column(self, column: TakenColumn) -> None:
        """Shows what is said of a column, or what it looks like."""
        said = parse_choice(column.said).kind if column.said else None
        looks = WORDS.get(column.kind, column.kind)
        self.setItemText(0, f"as it looks: {looks}" if said is None else "as it looks")
        self.setCurrentIndex(max(0, self.findData(said)) if said is not None else 0)
        self.setAccessibleName(f"{column.name} is")

    def wheelEvent(self, event: QWheelEvent) -> None:
        event.ignore()


class ColumnTable(QTableWidget):
    """``said`` tells that ``choices`` changed, ``refused`` one sentence where a field cannot be taken.

    A file without columns, a value change dump, has its channels listed, of which nothing can be said.
    """

    said = Signal()
    refused = Signal(str)

    def __init__(self, theme: Theme, scale: float) -> None:
        super().__init__(0, len(HEADINGS))
        self._theme = theme
        self._said: dict[str, str] = {}
        self._rows: tuple[str, ...] = ()
        self._boxes: list[tuple[KindBox, QLineEdit]] = []
        self._filling = False
        self.setHorizontalHeaderLabels(HEADINGS)
        self.setAccessibleName("What the columns are taken for")
        self.setEditTriggers(QAbstractItemView.EditTrigger.NoEditTriggers)
        self.setSelectionMode(QAbstractItemView.SelectionMode.SingleSelection)
        self.setVerticalScrollMode(QAbstractItemView.ScrollMode.ScrollPerPixel)
        self.setShowGrid(False)
        self.verticalHeader().hide()
        line = round(15 * scale * 2.1)
        self.verticalHeader().setDefaultSectionSize(line)
        self.verticalHeader().setMinimumSectionSize(line)
        self.setMinimumHeight(line * 5)
        header = self.horizontalHeader()
        header.setDefaultAlignment(Qt.AlignmentFlag.AlignLeft | Qt.AlignmentFlag.AlignVCenter)
        header.setHighlightSections(False)
        header.setStretchLastSection(True)
        header.setSectionResizeMode(QHeaderView.ResizeMode.Interactive)
        for column, width in enumerate(WIDTHS):
            self.setColumnWidth(column, round(width * scale))

    @property
    def choices(self) -> tuple[tuple[str, str], ...]:
        """What is said, as names of columns and texts."""
        return tuple(self._said.items())

    def show_preview(self, seen: Preview) -> None:
        """Shows the columns of a file. A field that is being typed in is left alone."""
        self._filling = True
        self._said = dict(seen.wish.columns)
        names = tuple(column.name for column in seen.columns)
        if names != self._rows or not names:
            self._make_rows(seen)
        self._rows = names
        for row, column in enumerate(seen.columns):
            box, field = self._boxes[row]
            box.show_column(column)
            factor = parse_choice(column.said).factor if column.said else None
            if not field.hasFocus():
                field.setText("" if factor is None else f"{float(factor):g}")
            field.setVisible(column.kind == "volts")
            self._put(row, 0, column.name, column.title)
            self._put_values(row, column)
        self._filling = False

    def _make_rows(self, seen: Preview) -> None:
        self.clearContents()
        self._boxes = []
        self.setRowCount(len(seen.columns) or len(seen.channels))
        for row, column in enumerate(seen.columns):
            box, field = KindBox(), QLineEdit()
            field.setPlaceholderText("1")
            field.setAccessibleName(f"{column.name}, volts times")
            field.setToolTip("10 for a probe of 10:1 that the instrument took for 1:1")
            box.currentIndexChanged.connect(lambda _, row=row: self._tell(row))
            field.textEdited.connect(lambda _, row=row: self._tell(row))
            self.setCellWidget(row, 1, box)
            # a table shows its own widgets again whenever it lays itself out
            holder = QWidget()
            within = QVBoxLayout(holder)
            within.setContentsMargins(4, 0, 4, 0)
            within.addWidget(field)
            self.setCellWidget(row, 2, holder)
            self._boxes.append((box, field))
        for row, channel in enumerate(seen.channels if not seen.columns else ()):
            for at, text in enumerate((channel.name, channel.kind, "–", channel.first)):
                set_tip(self._put(row, at, text), text)

    def _put(self, row: int, at: int, text: str, tip: str = "") -> QTableWidgetItem:
        item = QTableWidgetItem(text)
        set_tip(item, tip if tip != text else "")
        self.setItem(row, at, item)
        return item

    def _put_values(self, row: int, column: TakenColumn) -> None:
        item = self._put(row, 3, f"▲ {column.wrong}   {column.first}" if column.wrong else column.first)
        if column.wrong:
            set_tip(item, f"The cell that does not fit: {column.wrong}")
            item.setForeground(QColor(self._theme.warning_text))
            bold = QFont(self.font())
            bold.setBold(True)
            item.setFont(bold)
            self.scrollToItem(item)
            # the name of the column must stay in sight
            self.horizontalScrollBar().setValue(0)
            return
        # a narrow form shows the first of them alone
        set_tip(item, column.first)
        if column.kind == "leave out":
            item.setForeground(QColor(self._theme.muted))

    def _tell(self, row: int) -> None:
        if self._filling:
            return
        name = self._rows[row]
        box, field = self._boxes[row]
        kind, text = box.currentData(), field.text().strip()
        before = parse_choice(self._said[name]) if name in self._said else ColumnChoice()
        try:
            factor = factor_of(text) if text and kind in (None, "volts") and not field.isHidden() else None
        except ValueError as error:
            self.refused.emit(f"{name}, {error}")
            return
        kept = before if before.kind == kind and kind in ("word", "time") else ColumnChoice(kind, factor)
        if kept == ColumnChoice():
            self._said.pop(name, None)
        else:
            self._said[name] = kept.text
        self.said.emit()
