"""What a person may say of a file: each choice begins as the file says it, and can be changed."""

from __future__ import annotations

from fractions import Fraction

from PySide6.QtCore import QSize, Qt, Signal
from PySide6.QtWidgets import QComboBox, QLineEdit, QSizePolicy, QVBoxLayout, QWidget

from app.model.import_preview import Preview
from app.widgets.controls.label import label
from app.widgets.controls.wrap_row import WrapRow
from tracecore.quantities import format_rate, parse_rate_hz
from tracecore.readers.settings import ReadSettings

DELIMITERS = ((",", "comma"), (";", "semicolon"), ("\t", "tab"))
TIME_UNITS = ("s", "ms", "us", "ns", "ps")
BASES = ((2, "binary"), (8, "octal"), (16, "hex"))
LOOKS = "as it looks"


class ShortField(QLineEdit):
    """As wide as what is typed in it, at any text size."""

    def __init__(self, letters: int) -> None:
        super().__init__()
        self._letters = letters
        self.setSizePolicy(QSizePolicy.Policy.Fixed, QSizePolicy.Policy.Fixed)

    def sizeHint(self) -> QSize:
        metrics = self.fontMetrics()
        return QSize(metrics.horizontalAdvance("n" * self._letters) + metrics.height(), super().sizeHint().height())

    def minimumSizeHint(self) -> QSize:
        return self.sizeHint()


class ImportChoices(QWidget):
    """``changed`` carries the wish as it stands, ``refused`` one sentence where a field cannot be taken."""

    changed = Signal(object)
    refused = Signal(str)

    def __init__(self) -> None:
        super().__init__()
        self._row = WrapRow(self, gap=14)
        self._blocks: dict[str, QWidget] = {}
        self.layout_box = self._combo("layout", "Layout")
        self.delimiter = self._combo("delimiter", "Between cells")
        self.first_row = self._field("first_row", "Data begin in line", 8)
        self.time_unit = self._combo("time_unit", "Times are in")
        self.rate = self._field("rate", "Sample rate", 12)
        self.word_base = self._combo("word_base", "Words are in")
        self.volts = self._field("volts", "All volts times", 6)
        self.volts.setToolTip("10 for a probe of 10:1 that the instrument took for 1:1")
        self._filling = False

    def _block(self, name: str, words: str, field: QWidget) -> None:
        block = QWidget()
        down = QVBoxLayout(block)
        down.setContentsMargins(0, 0, 0, 0)
        down.setSpacing(2)
        down.addWidget(label(words, "muted", wrap=False))
        down.addWidget(field)
        field.setAccessibleName(words)
        self._blocks[name] = block
        self._row.addWidget(block)

    def _combo(self, name: str, words: str) -> QComboBox:
        box = QComboBox()
        box.setSizeAdjustPolicy(QComboBox.SizeAdjustPolicy.AdjustToContents)
        box.currentIndexChanged.connect(lambda _: self._tell())
        self._block(name, words, box)
        return box

    def _field(self, name: str, words: str, letters: int) -> QLineEdit:
        field = ShortField(letters)
        field.textEdited.connect(lambda _: self._tell())
        self._block(name, words, field)
        return field

    def show_preview(self, found: Preview, *, refill: bool) -> None:
        """Fills in what was found and said. A field that is being typed in is left alone, unless ``refill``."""
        wish = found.wish
        self._filling = True
        layouts = [(name, name) for name in found.choices]
        if wish.layout and wish.layout not in found.choices:
            layouts.append((wish.layout, wish.layout))
        looks = found.layout if found.layout and not wish.layout else ""
        _fill(self.layout_box, f"{LOOKS}: {looks}" if looks else LOOKS, layouts, wish.layout)
        named = dict(DELIMITERS).get(found.delimiter, "")
        looks = f"{LOOKS}: {named}" if named and wish.delimiter is None else LOOKS
        _fill(self.delimiter, looks, DELIMITERS, wish.delimiter)
        _fill(self.time_unit, "as the heading says", [(u, u) for u in TIME_UNITS], wish.time_unit)
        _fill(self.word_base, "as they look", BASES, wish.word_base)
        if refill:
            self.rate.setText(format_rate(wish.sample_rate_hz) if wish.sample_rate_hz is not None else "")
            self.first_row.setText(str(wish.first_row) if wish.first_row is not None else "")
            self.volts.setText(f"{float(wish.volt_scale):g}" if wish.volt_scale is not None else "")
        self.rate.setPlaceholderText("as 24 MHz" if found.lacks == "sample rate" else "as the file says")
        self.first_row.setPlaceholderText(str(found.first_row) if found.first_row else LOOKS)
        self.volts.setPlaceholderText("1")
        self._blocks["volts"].setVisible(found.has_volts or wish.volt_scale is not None)
        # a value change dump says all by itself, and has no cells
        dump = found.ready and not found.columns
        for name in ("delimiter", "first_row", "time_unit", "rate", "word_base"):
            self._blocks[name].setVisible(not dump)
        self._filling = False

    def go_to(self, lacks: str) -> None:
        """Puts the cursor into the field that says what is lacking."""
        fields = {
            "sample rate": self.rate,
            "time unit": self.time_unit,
            "word base": self.word_base,
            "layout": self.layout_box,
        }
        if lacks in fields:
            fields[lacks].setFocus(Qt.FocusReason.OtherFocusReason)

    def wish(self) -> ReadSettings:
        """What is said now. Raises ValueError, one sentence, where a field cannot be taken."""
        rate, row, volts = (field.text().strip() for field in (self.rate, self.first_row, self.volts))
        if row and (not row.isdecimal() or int(row) < 1):
            raise ValueError(f"Data begin in line: found {row!r}; expected a line number from 1 on.")
        return ReadSettings(
            _rate(rate) if rate else None,
            self.layout_box.currentData(),
            self.delimiter.currentData(),
            int(row) if row else None,
            self.time_unit.currentData(),
            self.word_base.currentData(),
            factor_of(volts) if volts else None,
        )

    def _tell(self) -> None:
        if self._filling:
            return
        try:
            wish = self.wish()
        except ValueError as error:
            self.refused.emit(str(error))
        else:
            self.changed.emit(wish)


def _rate(text: str) -> Fraction:
    if text.replace(",", ".").replace(".", "").replace(" ", "").isdecimal():
        # a bare number could be hertz as well as megahertz, which is a million times as much
        raise ValueError(f"Sample rate: {text} of what? Type the unit too: {text} MHz, {text} kHz or {text} Hz.")
    try:
        return parse_rate_hz(text)
    except ValueError as error:
        raise ValueError(f"Sample rate: {error}. Type it with its unit, as 24 MHz.") from error


def factor_of(text: str) -> Fraction:
    try:
        factor = Fraction(text.replace(",", "."))
    except (ValueError, ZeroDivisionError):
        factor = Fraction(0)
    if factor <= 0:
        raise ValueError(f"volts times: found {text!r}; expected a number above zero. Type 10 for a probe of 10:1.")
    return factor


def _fill(box: QComboBox, none_said: str, items, said) -> None:  # type: ignore[no-untyped-def]
    """The first item leaves it to the file."""
    wanted = [(None, none_said), *items]
    if [(box.itemData(i), box.itemText(i)) for i in range(box.count())] != wanted:
        box.clear()
        for data, text in wanted:
            box.addItem(text, data)
    box.setCurrentIndex(next((i for i, (data, _) in enumerate(wanted) if data == said), 0))
