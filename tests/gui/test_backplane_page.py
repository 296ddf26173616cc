"""The Backplane page as a person uses it: pins by mouse and keys, readings typed where asked for, undo, the chip."""

from __future__ import annotations

from pathlib import Path

import pytest
from PySide6.QtCore import QPoint, Qt

from app.case.store import CaseStore
from app.pages.backplane import BackplanePage
from app.report.continuity_words import POWER_OFF
from app.shell.window import Window
from demo_traces import CASES
from tests.gui.conftest import settle

PINS = """net,slot,pin,part,part_pin,direction,note
D03,6,B22,U3 7400,3,out,
D03,7,B04,U7 74181,2,in,
GND,7,A36,,,supply,
"""
READINGS = """from,to,ohms,side,read_on,by,note
6-B22,7-B04,0.2,good,,,
7-B04,7-A36,open,good,,,
7-B04,7-A36,2.1k,good,,,card in
"""


@pytest.fixture
def page(qtbot, compared: Window, tmp_path: Path) -> BackplanePage:
    compared.show_page("backplane")
    made = compared.pages["backplane"]
    assert isinstance(made, BackplanePage)
    (tmp_path / "pins.csv").write_text(PINS)
    (tmp_path / "readings.csv").write_text(READINGS)
    made.open_pins(tmp_path / "pins.csv")
    made.open_readings(tmp_path / "readings.csv")
    settle()
    return made


def test_it_opens_at_the_pin_of_the_first_cause(page: BackplanePage) -> None:
    assert page.view is not None
    assert page.view.chosen == "7-B04"
    spot = page.view.spot("7-B04")
    assert spot is not None
    assert spot.verdict == "diverges"
    assert "stuck low" in spot.words or "low" in spot.words


def test_three_readings_typed_where_they_are_asked_for_lead_to_the_slot(qtbot, page: BackplanePage) -> None:
    panel = page.net_panel
    for asked, typed in (("6-B22 to 7-B04", "0.2"), ("its slot empty", "open"), ("with the card seated", "3")):
        assert asked in panel.next.text()
        qtbot.keyClicks(panel.entry, typed)
        qtbot.keyClick(panel.entry, Qt.Key.Key_Return)
    assert "something in slot 7 may be at fault" in panel.finding.text()
    assert not panel.next.isVisible()
    page.context.act("undo")
    assert "with the card seated" in panel.next.text()


def test_a_reading_typed_into_the_table_changes_the_verdict(qtbot, page: BackplanePage) -> None:
    row = next(r for r, p in enumerate(page.table.pairs) if (p.start, p.end) == ("6-B22", "7-B04"))
    page.table.item(row, 4).setText("open")
    assert page.view is not None
    pair = next(p for p in page.view.pairs if (p.start, p.end) == ("6-B22", "7-B04"))
    assert pair.verdict == "open"
    assert page.view.place is not None
    assert page.view.place.place == "wire"


def test_what_is_no_reading_is_said_and_changes_nothing(qtbot, page: BackplanePage) -> None:
    said: list[str] = []
    page.said.connect(said.append)
    before = page.context.session.case.continuity
    qtbot.keyClicks(page.net_panel.entry, "low")
    qtbot.mouseClick(page.net_panel.write, Qt.MouseButton.LeftButton)
    assert any("'low' is no reading" in words for words in said)
    assert page.context.session.case.continuity == before


def test_pins_by_mouse_by_arrows_and_by_name(qtbot, page: BackplanePage) -> None:
    view = page.view
    assert view is not None
    at = page.map.place(view.spot("7-B01")).toPoint() + QPoint(5, 3)
    qtbot.mouseClick(page.map, Qt.MouseButton.LeftButton, pos=at)
    assert page.chosen == "7-B01"
    assert page.context.session.chosen.signal == "D00"
    qtbot.keyClick(page.map, Qt.Key.Key_Down)
    assert page.chosen == "7-B02"
    qtbot.keyClicks(page.go_to, "7-b4")
    qtbot.keyClick(page.go_to, Qt.Key.Key_Return)
    assert page.chosen == "7-B04"


def test_the_wiring_side_is_the_mirror_of_the_card_side(qtbot, page: BackplanePage) -> None:
    view = page.view
    assert view is not None
    six, seven = view.spot("6-B22"), view.spot("7-B04")
    assert page.map.place(seven).x() < page.map.place(six).x()
    qtbot.mouseClick(page.card_side, Qt.MouseButton.LeftButton)
    assert page.map.place(seven).x() > page.map.place(six).x()
    assert "card side" in page.title.text()


def test_the_caution_about_power_stands_and_cannot_be_sent_away(page: BackplanePage) -> None:
    assert page.caution.isVisible()
    assert POWER_OFF in page.caution.text()
    assert "safe" not in page.caution.text()


def test_readings_and_pins_stay_in_the_case_file(qtbot, page: BackplanePage, tmp_path: Path) -> None:
    session = page.context.session
    kept = session.store.read()
    assert kept.pins == session.case.pins
    assert [(r.pair, r.ohms, r.side, r.note) for r in kept.continuity.readings] == [
        (r.pair, r.ohms, r.side, r.note) for r in session.case.continuity.readings
    ]
    assert isinstance(session.store, CaseStore)


def test_the_plan_is_written(page: BackplanePage, tmp_path: Path) -> None:
    page.write_plan(tmp_path / "plan.pdf")
    assert (tmp_path / "plan.pdf").read_bytes().startswith(b"%PDF")
    (tmp_path / "meter.csv").write_text("reading\n" + "0.2\n" * len(page.plan.rows))
    page.open_meter(tmp_path / "meter.csv")
    assert page.view is not None
    assert page.view.found.count("to measure") == 0


def test_a_chip_whose_inputs_were_not_captured_is_not_judged(qtbot, page: BackplanePage) -> None:
    qtbot.mouseClick(page.chip_button, Qt.MouseButton.LeftButton)
    assert page.chip.choice.currentText() == "U3 · 7400"
    assert "cannot be told" in page.chip.suspect.text()
    assert "Nothing is known of legs" in page.chip.told.text()
    assert page.chip.caution.isVisible()
    page.context.act("undo")
    page.context.act("undo")
    assert "No chip can be judged yet" in page.chip.does.text()


def test_the_case_held_goes_from_the_first_cause_to_the_slot(qtbot, window: Window) -> None:
    window.files.open_demo(CASES["held"])
    qtbot.waitUntil(lambda: window.session.current and window.jobs.idle, timeout=30_000)
    window.show_page("backplane")
    page = window.pages["backplane"]
    assert isinstance(page, BackplanePage)
    assert page.chosen == "7-B02"
    for typed in ("0.2", "open", "3"):
        qtbot.keyClicks(page.net_panel.entry, typed)
        qtbot.keyClick(page.net_panel.entry, Qt.Key.Key_Return)
    assert "something in slot 7 may be at fault" in page.net_panel.finding.text()


def test_the_case_clip_shows_the_dead_input(qtbot, window: Window) -> None:
    window.files.open_demo(CASES["clip"])
    qtbot.waitUntil(lambda: window.session.current and window.jobs.idle, timeout=30_000)
    window.show_page("backplane")
    page = window.pages["backplane"]
    assert isinstance(page, BackplanePage)
    qtbot.mouseClick(page.chip_button, Qt.MouseButton.LeftButton)
    chip = page.chip
    assert chip.view is not None
    assert "reads 1" in chip.told.text()
    assert "obeys in all" in chip.good.text()
    assert [leg.number for leg in chip.view.legs if leg.may_be_open] == [3]
    assert sum(leg.disobeys for leg in chip.view.legs) == 8
    chip.states.selectRow(0)
    legs = {leg.name: leg for leg in chip.drawing.view.legs}
    first = dict(zip(chip.view.states[0].group.inputs, chip.view.states[0].state.inputs, strict=True))
    assert all(legs[name].suspect_level == level for name, level in first.items())
