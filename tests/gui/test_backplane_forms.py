"""Lists, plan and crate as a person edits them: by mouse and keys, with undo, told at once what cannot be."""

from __future__ import annotations

import math
from pathlib import Path

import pytest
from PySide6.QtCore import Qt
from PySide6.QtWidgets import QMessageBox

from app.case.values import CrateShape
from app.widgets.backplane.crate_form import BY_PINS
from tests.gui.backplane_bench import Bench
from tracecore.circuit.pin_list import read_pin_list
from tracecore.circuit.wire_list import read_wire_list


def _cell(bench: Bench, row: int, column: int, text: str) -> bool:
    """What a person's editor gives the model."""
    rows = bench.whole.lists.view.rows
    return rows.setData(rows.index(row, column), text)


# ---- lists


def test_a_cell_of_the_pin_list_is_edited_checked_and_taken_back(qtbot, bench: Bench) -> None:
    qtbot.mouseClick(bench.whole.lists_button, Qt.MouseButton.LeftButton)
    lists = bench.whole.lists
    assert lists.pins.rowCount() == 4
    assert not lists.faults.isVisible()
    assert "The captures reach 1 of 2 nets; not GND." in lists.reach.text()
    assert _cell(bench, 1, 4, "30")
    assert "U7 74181 has no leg 30 (line 3)" in lists.faults.text()
    assert bench.session.case.pins is not None
    assert bench.session.case.pins.rows[1].part_pin == "30"
    bench.session.undo()
    assert not lists.faults.isVisible()
    assert lists.pins.data(lists.pins.index(1, 4), Qt.ItemDataRole.DisplayRole) == "2"


def test_what_cannot_be_is_told_and_not_taken(qtbot, bench: Bench) -> None:
    qtbot.mouseClick(bench.whole.lists_button, Qt.MouseButton.LeftButton)
    before = bench.session.case.pins
    assert not _cell(bench, 0, 5, "sideways")
    assert "found 'sideways' as direction" in bench.whole.lists.waits.text()
    assert bench.session.case.pins == before
    assert _cell(bench, 0, 6, "cut once")
    assert not bench.whole.lists.waits.isVisible()


def test_a_new_row_waits_until_it_is_one(qtbot, bench: Bench) -> None:
    qtbot.mouseClick(bench.whole.lists_button, Qt.MouseButton.LeftButton)
    bench.whole.lists.do_new_row()
    assert bench.whole.lists.pin_view.currentIndex().row() == 3
    _cell(bench, 3, 0, "D03")
    assert "The new row waits: " in bench.whole.lists.waits.text()
    _cell(bench, 3, 1, "9")
    _cell(bench, 3, 2, "b11")
    assert bench.session.case.pins is not None
    assert bench.session.case.pins.rows[-1].place == "9-B11"
    assert not bench.whole.lists.waits.isVisible()
    assert bench.whole.lists.pins.rowCount() == 5
    # the new pin is on the map at once
    assert bench.whole.crate.view is not None
    assert bench.whole.crate.view.spot("9-B11") is not None


def test_rows_are_taken_out_with_the_delete_key(qtbot, bench: Bench) -> None:
    qtbot.mouseClick(bench.whole.lists_button, Qt.MouseButton.LeftButton)
    view = bench.whole.lists.pin_view
    view.setCurrentIndex(bench.whole.lists.pins.index(0, 0))
    qtbot.keyClick(view, Qt.Key.Key_Delete)
    assert bench.session.case.pins is not None
    assert [row.net for row in bench.session.case.pins.rows] == ["D03", "GND"]
    assert [row.line for row in bench.session.case.pins.rows] == [2, 3]


def test_the_wire_list_is_a_table_too(qtbot, bench: Bench, tmp_path: Path) -> None:
    qtbot.mouseClick(bench.whole.lists_button, Qt.MouseButton.LeftButton)
    lists = bench.whole.lists
    qtbot.mouseClick(lists.wires_button, Qt.MouseButton.LeftButton)
    for column, text in enumerate(("U7", "gate", "D03", "D00 D01")):
        _cell(bench, 0, column, text)
    assert bench.session.case.wire_list is not None
    assert bench.session.case.wire_list.rows[0].inputs == ("D00", "D01")
    assert "1 row, 1 with every net captured" in lists.reach.text()
    for column, text in enumerate(("U8", "gate", "D03", "D02")):
        _cell(bench, 1, column, text)
    assert "lets 2 parts drive D03" in lists.faults.text()
    lists.save_list(tmp_path / "wires.csv")
    assert read_wire_list(tmp_path / "wires.csv").rows == bench.session.case.wire_list.rows
    lists.do_remove()


def test_pins_that_readings_put_on_a_net_are_offered_and_taken(qtbot, bench: Bench, tmp_path: Path) -> None:
    (tmp_path / "more.csv").write_text("from,to,ohms,side\n7-B04,9-B11,0.2,good\n")
    bench.whole.crate.open_readings(tmp_path / "more.csv")
    qtbot.mouseClick(bench.whole.lists_button, Qt.MouseButton.LeftButton)
    lists = bench.whole.lists
    assert "The good side's readings put 1 pin more on D03." in lists.learnt.text()
    qtbot.mouseClick(lists.teach, Qt.MouseButton.LeftButton)
    assert bench.session.case.pins is not None
    assert (bench.session.case.pins.rows[-1].place, bench.session.case.pins.rows[-1].direction) == ("9-B11", "")
    assert not lists.teach.isVisible()
    lists.save_list(tmp_path / "kept.csv")
    assert [r.place for r in read_pin_list(tmp_path / "kept.csv").rows][-1] == "9-B11"
    bench.session.undo()
    assert lists.teach.isVisible()


# ---- the measuring plan


def test_the_plan_is_typed_back_by_number_and_kept_as_one_change(qtbot, bench: Bench, tmp_path: Path) -> None:
    crate = bench.whole.crate
    crate.open_plan()
    form = crate.plan_form
    assert [(row.start, row.end, row.note) for row in form.plan.rows] == [
        # in the order of the good side's reading, which says where the leads were
        ("6-B22", "7-B04", ""), ("7-B04", "7-A36", ""), ("7-B04", "7-A36", "card in"),
    ]  # fmt: skip
    assert "Power off" in form.caution.text()
    for number, ohms in (("1", "0.2"), ("3", "3"), ("2", "low"), ("2", "open")):
        form.number.setText(number)
        qtbot.keyClicks(form.ohms, ohms)
        qtbot.keyClick(form.ohms, Qt.Key.Key_Return)
        if ohms == "low":
            assert "'low' as ohms" in form.note.text()
            form.ohms.clear()
    assert form.note.text() == "3 of 3 rows read"
    form.write_sheet(tmp_path / "plan.pdf")
    assert (tmp_path / "plan.pdf").read_bytes().startswith(b"%PDF")
    before = len(bench.session.case.continuity.readings)
    qtbot.mouseClick(form.keep, Qt.MouseButton.LeftButton)
    assert len(bench.session.case.continuity.readings) == before + 3
    assert "something on the card of slot 7" in crate.net_panel.finding.text()
    bench.session.undo()
    assert len(bench.session.case.continuity.readings) == before


def test_a_meters_file_fills_the_plan(qtbot, bench: Bench, tmp_path: Path) -> None:
    bench.whole.crate.open_plan()
    form = bench.whole.crate.plan_form
    (tmp_path / "meter.csv").write_text("reading\n0.2\n9.9E37\n3\n")
    form.open_meter(tmp_path / "meter.csv")
    assert [form.typed[n].ohms for n in (1, 2, 3)] == [0.2, math.inf, 3.0]
    (tmp_path / "bad.csv").write_text("reading\n0.2\n1\n3\n4\n")
    form.open_meter(tmp_path / "bad.csv")
    assert "a reading for row 4" in form.note.text()
    form.which.setCurrentIndex(1)
    assert form.which.currentText() == "Every pin of slot 7"
    assert [(row.start, row.end, row.good_ohms) for row in form.plan.rows] == [("6-B22", "7-B04", 0.2)]
    # what was taken for the other plan waits, and is typed in already where it belongs here too
    assert form.typed[1].ohms == 0.2
    assert "2 of other plans wait" in form.note.text()
    qtbot.keyClick(form, Qt.Key.Key_Escape)
    assert form.isVisible(), "readings are not dropped without a word"
    form.findChild(QMessageBox).reject()
    before = len(bench.session.case.continuity.readings)
    qtbot.mouseClick(form.keep, Qt.MouseButton.LeftButton)
    assert len(bench.session.case.continuity.readings) == before + 3


# ---- the crate


def test_the_crate_is_described_from_a_common_shape(qtbot, bench: Bench) -> None:
    crate = bench.whole.crate
    assert crate.view is not None
    assert crate.view.crate.slots == 7
    crate.open_crate_form()
    form = crate.crate_form
    form.start.setCurrentText("12 slots, 2 rows of 36")
    form.names.setPlainText("Clock\nSequence")
    form.rows.setText("A A")
    assert not form.keep.isEnabled()
    form.rows.setText("a b")
    qtbot.mouseClick(form.keep, Qt.MouseButton.LeftButton)
    assert bench.session.case.crate == CrateShape(12, ("A", "B"), 36, ("Clock", "Sequence"))
    assert crate.view.crate.slots == 12
    crate.open_crate_form()
    crate.crate_form.start.setCurrentText(BY_PINS)
    qtbot.mouseClick(crate.crate_form.keep, Qt.MouseButton.LeftButton)
    assert bench.session.case.crate is None


def test_a_crate_smaller_than_its_pins_shows_those_it_has(bench: Bench) -> None:
    crate = bench.whole.crate
    crate.open_crate_form()
    crate.crate_form.slots.setValue(6)
    crate.crate_form.accept()
    assert crate.view is not None
    assert {spot.slot for spot in crate.view.spots} <= set(range(1, 7))
    assert crate.view.outside == 7
    # the chosen pin and its net stay in the panel, and nothing fails to be drawn
    assert crate.chosen == "7-B04"
    crate.map.grab()


# ---- the meter


def test_leads_and_limits_change_the_verdicts_and_are_taken_back(qtbot, bench: Bench) -> None:
    crate = bench.whole.crate
    qtbot.keyClicks(crate.net_panel.entry, "1.6")
    qtbot.keyClick(crate.net_panel.entry, Qt.Key.Key_Return)
    assert crate.view is not None
    assert crate.view.found.count("raised") == 1
    crate.open_meter_form()
    form = crate.meter_form
    form.fields["suspect_leads_ohms"].setText("0.8")
    form.fields["joins_ohms"].setText("0")
    assert not form.keep.isEnabled()
    form.fields["joins_ohms"].setText("2")
    qtbot.mouseClick(form.keep, Qt.MouseButton.LeftButton)
    assert crate.view.found.count("raised") == 0
    assert [edge.state for edge in crate.view.edges] == ["same"]
    kept = bench.session.store.read().continuity
    assert (kept.suspect_leads_ohms, kept.joins_ohms) == (0.8, 2.0)
    bench.session.undo()
    assert crate.view.found.count("raised") == 1


@pytest.mark.parametrize("slot", ["700", "0"])
def test_a_slot_that_can_be_none_does_not_stretch_the_crate(qtbot, bench: Bench, slot: str) -> None:
    qtbot.mouseClick(bench.whole.lists_button, Qt.MouseButton.LeftButton)
    _cell(bench, 1, 1, slot)
    view = bench.whole.crate.view
    assert view is not None
    assert (view.crate.slots, view.outside) == (7, 1)
    assert "named pins outside this crate: 1" in bench.whole.crate.status()
    bench.whole.crate.map.grab()
