"""The bench card as a form: the paper's rows and boxes, walked with the keyboard, kept as typed."""

from __future__ import annotations

from dataclasses import replace

import pytest

pytest.importorskip("PySide6")

from PySide6.QtCore import QPoint, Qt
from PySide6.QtWidgets import QApplication, QLabel, QLineEdit, QWidget

from app.case.card_rows import BLANK, with_pins
from app.case.values import BenchCard, CardRow
from app.model.theme import DARK, LIGHT, style_sheet
from app.widgets.forms.card_form import CardForm
from app.widgets.frame.frame_style import frame_style

ROWS = (
    CardRow("off", "6-B22 to 7-B04", "at the wrap posts", "0.2 ohm", "above 1.2 ohm: raised\ncommon practice", "ohm"),
    CardRow("off", f"7-B04 to {BLANK}", "to ground, pin not known; slot 7 empty", "", "far below good", "ohm"),
    CardRow("on", f"{BLANK} to {BLANK}", "+5 V at slot 7, read first; both pins not known", "", "4.75 to 5.25 V", "V"),
    CardRow("on", "6-B22", "driver, should move", "", "low ≤ 0.4, high ≥ 2.4 V\n74: source", "V", ("low", "high")),
)
CARD = BenchCard(3, "14-3", "D03", 1004, "D03 at 7-B04: stuck low.", ROWS)


def shown(qtbot, card: BenchCard = CARD) -> CardForm:
    form = CardForm(card, LIGHT, 1.0)
    qtbot.addWidget(form)
    form.resize(900, 800)
    form.show()
    qtbot.waitExposed(form)
    return form


@pytest.fixture
def form(qtbot) -> CardForm:
    return shown(qtbot)


def test_a_field_for_each_box_and_each_blank(form: CardForm) -> None:
    assert [len(row.boxes) for row in form.rows] == [1, 1, 1, 2]
    assert [len(row.pins) for row in form.rows] == [0, 1, 2, 0]
    assert [row.good is None for row in form.rows] == [True, False, False, False]
    words = {label.text() for label in form.findChildren(QLabel)}
    for row in ROWS:
        assert {row.how, row.unit, row.limit.splitlines()[0]} <= words
    assert {"Bench card 14-3", CARD.finding, "POWER OFF", "POWER ON", "1", "4", "low", "high"} <= words
    names = [field.accessibleName() for field in form.fields]
    assert len(set(names)) == len(names) - 1  # the two pins of row 3 are both unknown
    assert all(names)


def test_what_is_typed_is_kept_as_typed_with_its_unit(qtbot, form: CardForm) -> None:
    for field, text in zip(form.rows[3].boxes, ("0.3", " 3.4 V "), strict=True):
        qtbot.keyClicks(field, text)
    qtbot.keyClicks(form.rows[0].boxes[0], "1.2 kohm")
    qtbot.mouseClick(form.found[1], Qt.MouseButton.LeftButton, pos=QPoint(8, form.found[1].height() // 2))
    qtbot.keyClicks(form.other, "a hair of wire")
    form.notes.setPlainText("moved with the loom\nand again")
    with qtbot.waitSignal(form.filled, timeout=1000) as told:
        qtbot.mouseClick(form.keep, Qt.MouseButton.LeftButton)
    (card,) = told.args
    assert card.filled == (("1.2 kohm",), ("",), ("",), ("0.3", "3.4 V"))
    assert card.found == "wrap, a hair of wire"
    assert card.notes == "moved with the loom\nand again"
    assert (card.id, card.number, card.rows) == (3, "14-3", ROWS)


def test_pins_and_good_readings_become_part_of_the_row(qtbot, form: CardForm) -> None:
    qtbot.keyClicks(form.rows[1].pins[0], "7-A36")
    qtbot.keyClicks(form.rows[1].good, "open")
    qtbot.keyClicks(form.rows[2].pins[1], "7-A36")
    rows = form.card().rows
    assert rows[1] == replace(ROWS[1], probe="7-B04 to 7-A36", how="to ground; slot 7 empty", good="open")
    assert rows[2] == replace(ROWS[2], probe=f"{BLANK} to 7-A36")
    assert rows[0] == ROWS[0]


@pytest.mark.parametrize(
    ("how", "after"),
    [
        ("to ground, pin not known; card 7 in; red lead on B04", "to ground; card 7 in; red lead on B04"),
        ("+5 V at slot 7, read first; both pins not known", "+5 V at slot 7, read first"),
        ("+5 V at slot 7, read first; ground pin not known", "+5 V at slot 7, read first"),
        ("+5 V at slot 7, read first; +5 V pin not known", "+5 V at slot 7, read first"),
        ("driver: the sheet lacks its pin; should move", "driver; should move"),
    ],
)
def test_a_pin_that_was_found_is_not_called_lacking(how: str, after: str) -> None:
    row = CardRow("on", BLANK, how, "", "", "V")
    assert with_pins(row, ("7-A02",)).how == after
    assert with_pins(row, (" ",)) == row


def test_enter_and_arrows_walk_the_boxes_in_order(qtbot, form: CardForm) -> None:
    order = [field for row in form.rows for field in row.fields]
    assert form.fields == order
    order[0].setFocus()
    for index in range(len(order)):
        assert QApplication.focusWidget() is order[index]
        key = Qt.Key.Key_Down if index % 2 else Qt.Key.Key_Return
        qtbot.keyClick(order[index], key)
    assert QApplication.focusWidget() is form.found[0]
    order[2].setFocus()
    qtbot.keyClick(order[2], Qt.Key.Key_Up)
    assert QApplication.focusWidget() is order[1]
    qtbot.keyClick(order[1], Qt.Key.Key_Up)
    qtbot.keyClick(order[0], Qt.Key.Key_Up)
    assert QApplication.focusWidget() is order[0]


def test_tab_reaches_everything_and_ends_at_the_button(qtbot, form: CardForm) -> None:
    chain: list[QWidget] = [*form.fields, *form.found, form.other, form.notes, form.keep]
    chain[0].setFocus()
    for widget in chain:
        assert QApplication.focusWidget() is widget
        qtbot.keyClick(widget, Qt.Key.Key_Tab)


@pytest.mark.parametrize("where", ["field", "found", "notes"])
def test_control_enter_keeps_from_anywhere(qtbot, form: CardForm, where: str) -> None:
    widget = {"field": form.rows[0].boxes[0], "found": form.found[2], "notes": form.notes}[where]
    widget.setFocus()
    with qtbot.waitSignal(form.filled, timeout=1000) as told:
        qtbot.keyClick(widget, Qt.Key.Key_Return, Qt.KeyboardModifier.ControlModifier)
    assert told.args[0].notes == ""


def test_enter_alone_keeps_nothing(qtbot, form: CardForm) -> None:
    with qtbot.assertNotEmitted(form.filled, wait=50):
        qtbot.keyClick(form.rows[0].boxes[0], Qt.Key.Key_Return)


def test_rows_out_of_order_are_grouped_by_power(qtbot) -> None:
    mixed = replace(CARD, rows=(ROWS[3], ROWS[0]))
    form = shown(qtbot, mixed)
    assert form.fields == [*form.rows[1].fields, *form.rows[0].fields]
    qtbot.keyClicks(form.rows[1].boxes[0], "17")
    assert form.card().filled == (("", ""), ("17",))
    assert [row.power for row in form.card().rows] == ["on", "off"]


def test_a_filled_card_opens_as_it_was_left(qtbot) -> None:
    kept = replace(
        CARD, filled=(("17 ohm",), ("0.3",), ("5.02 V",), ("0.3", "3.4")), found="card 7, solder splash", notes="warm"
    )
    form = shown(qtbot, kept)
    assert form.card() == kept
    assert form.other.text() == "solder splash"
    assert [box.text() for box in form.found if box.isChecked()] == ["card 7"]


def test_the_first_empty_box_takes_the_keyboard(qtbot) -> None:
    form = shown(qtbot, replace(CARD, filled=(("17",),)))
    assert form.focusWidget() is form.rows[1].boxes[0]


@pytest.mark.parametrize(
    ("scale", "size", "wide"),
    [(1.0, (900, 800), True), (1.0, (640, 600), False), (1.6, (1100, 700), False), (2.0, (1280, 720), False)],
)
def test_nothing_is_cut_or_overlaps(qtbot, scale: float, size: tuple[int, int], wide: bool) -> None:
    # a style of the whole application would style every widget again that an earlier test has left to be freed
    around = QWidget()
    qtbot.addWidget(around)
    around.setStyleSheet(style_sheet(DARK, scale) + frame_style(DARK, scale))
    around.resize(*size)
    form = CardForm(CARD, LIGHT, scale)
    form.setParent(around)
    form.resize(*size)
    around.show()
    form.show()
    qtbot.waitExposed(around)
    form.set_theme(DARK, scale)
    QApplication.processEvents()
    assert all(block.wide is wide for block in form.blocks)
    body = form.area.widget()
    assert body.width() <= form.area.viewport().width()
    kinds = (QLabel, QLineEdit)
    parts = [w for w in body.findChildren(QWidget) if isinstance(w, kinds) and w.isVisible()]
    places = {part: part.rect().translated(part.mapTo(body, QPoint(0, 0))) for part in parts}
    for part, place in places.items():
        assert body.rect().contains(place), part.objectName()
        if isinstance(part, QLabel):
            needed = part.heightForWidth(part.width()) if part.wordWrap() else part.sizeHint().height()
            assert part.height() >= needed, part.text()
            if not part.wordWrap():
                assert part.width() >= part.sizeHint().width(), part.text()
        for other, where in places.items():
            assert other is part or not place.intersects(where), (part.objectName(), other.objectName())
