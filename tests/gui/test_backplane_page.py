"""The Backplane page as a person uses it: pins by mouse and keys, readings typed where asked for, undo, the chip."""

from __future__ import annotations

from itertools import pairwise
from pathlib import Path

import pytest
from PySide6.QtCore import QPoint, Qt
from PySide6.QtWidgets import QLabel, QPushButton

from app.case.circuit_changes import SetPinList
from app.case.store import CaseStore
from app.model.jobs import Jobs
from app.model.readings_model import GOOD_COLUMN, SUSPECT_COLUMN
from app.pages.backplane import BackplanePage
from app.pages.backplane_crate import CratePane
from app.report.continuity_words import POWER_OFF
from app.shell.window import Window
from demo_traces import CASES
from tests.gui.backplane_bench import PINS, Bench
from tests.gui.conftest import settle


@pytest.fixture
def page(bench: Bench) -> CratePane:
    return bench.whole.crate


def test_it_opens_at_the_pin_of_the_first_cause(page: CratePane) -> None:
    assert page.view is not None
    assert page.view.chosen == "7-B04"
    spot = page.view.spot("7-B04")
    assert spot is not None
    assert spot.verdict == "diverges"
    assert "stuck low" in spot.words or "low" in spot.words


def test_three_readings_typed_where_they_are_asked_for_lead_to_the_slot(qtbot, page: CratePane) -> None:
    panel = page.net_panel
    for asked, typed in (("6-B22 to 7-B04", "0.2"), ("its slot empty", "open"), ("with the card seated", "3")):
        assert asked in panel.next.text()
        qtbot.keyClicks(panel.entry, typed)
        qtbot.keyClick(panel.entry, Qt.Key.Key_Return)
    assert "something on the card of slot 7 may hold it" in panel.finding.text()
    assert not panel.next.isVisible()
    page.context.act("undo")
    assert "with the card seated" in panel.next.text()


def test_a_reading_typed_into_the_table_changes_the_verdict(qtbot, page: CratePane) -> None:
    row = next(r for r, p in enumerate(page.table.pairs) if (p.start, p.end) == ("6-B22", "7-B04"))
    page.table.readings.setData(page.table.readings.index(row, SUSPECT_COLUMN), "open")
    assert page.view is not None
    pair = next(p for p in page.view.pairs if (p.start, p.end) == ("6-B22", "7-B04"))
    assert pair.verdict == "open"
    assert page.view.place is not None
    assert page.view.place.place == "wire"


def test_what_is_no_reading_is_said_and_changes_nothing(qtbot, page: CratePane) -> None:
    said: list[str] = []
    page.said.connect(said.append)
    before = page.context.session.case.continuity
    qtbot.keyClicks(page.net_panel.entry, "low")
    qtbot.mouseClick(page.net_panel.write, Qt.MouseButton.LeftButton)
    assert any("'low' is no reading" in words for words in said)
    assert page.context.session.case.continuity == before


def test_pins_by_mouse_by_arrows_and_by_name(qtbot, page: CratePane) -> None:
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


def test_the_wiring_side_is_the_mirror_of_the_card_side(qtbot, page: CratePane) -> None:
    view = page.view
    assert view is not None
    six, seven = view.spot("6-B22"), view.spot("7-B04")
    assert page.map.place(seven).x() < page.map.place(six).x()
    qtbot.mouseClick(page.card_side, Qt.MouseButton.LeftButton)
    assert page.map.place(seven).x() > page.map.place(six).x()
    assert page.map.side_words == "slot 1 at the left"


def test_the_caution_about_power_stands_and_cannot_be_sent_away(page: CratePane) -> None:
    assert page.caution.isVisible()
    assert POWER_OFF in page.caution.text()
    assert "safe" not in page.caution.text()


def test_readings_and_pins_stay_in_the_case_file(qtbot, page: CratePane, tmp_path: Path) -> None:
    session = page.context.session
    kept = session.store.read()
    assert kept.pins == session.case.pins
    assert [(r.pair, r.ohms, r.side, r.note) for r in kept.continuity.readings] == [
        (r.pair, r.ohms, r.side, r.note) for r in session.case.continuity.readings
    ]
    assert isinstance(session.store, CaseStore)


def _judged(qtbot, jobs: Jobs) -> None:
    qtbot.waitUntil(lambda: not jobs.busy("chips"), timeout=120_000)


def test_a_chip_whose_inputs_were_not_captured_is_not_judged(qtbot, bench: Bench) -> None:
    qtbot.mouseClick(bench.whole.chip_button, Qt.MouseButton.LeftButton)
    _judged(qtbot, bench.jobs)
    chip = bench.whole.chip
    assert chip.choice.currentText().startswith("U3 · 7400")
    assert "cannot be told" in chip.suspect.text()
    assert "Nothing is known of legs" in chip.outputs.text()
    assert chip.caution.isVisible()
    bench.session.undo()
    bench.session.undo()
    assert "No chip can be judged yet" in chip.does.text()


def test_a_chip_is_judged_off_the_windows_thread_and_an_old_answer_is_dropped(qtbot, bench: Bench) -> None:
    qtbot.mouseClick(bench.whole.chip_button, Qt.MouseButton.LeftButton)
    assert bench.jobs.busy("chips")
    assert bench.whole.chip.view is None
    bench.session.undo()
    bench.session.undo()
    assert not bench.jobs.busy("chips")
    settle(3)
    assert bench.whole.chip.found == ()


def test_the_case_held_goes_from_the_first_cause_to_the_slot(qtbot, window: Window) -> None:
    window.files.open_demo(CASES["held"])
    qtbot.waitUntil(lambda: window.session.current and window.jobs.idle, timeout=120_000)
    window.show_page("backplane")
    whole = window.pages["backplane"]
    assert isinstance(whole, BackplanePage)
    page = whole.crate
    assert page.chosen == "7-B02"
    for typed in ("0.2", "open", "3"):
        qtbot.keyClicks(page.net_panel.entry, typed)
        qtbot.keyClick(page.net_panel.entry, Qt.Key.Key_Return)
    told = page.net_panel.finding.text()
    assert "something on the card of slot 7 may hold it. A contact does not do that." in told
    assert "U7, leg 23" in told
    first = window.session.comparison.causes[0]
    assert "ohms from U7, leg 23 to ground, beside the good card" in first.probe_next
    assert "once more" not in first.probe_next


def test_the_case_clip_shows_the_dead_input(qtbot, window: Window) -> None:
    window.files.open_demo(CASES["clip"])
    qtbot.waitUntil(lambda: window.session.current and window.jobs.idle, timeout=120_000)
    window.show_page("backplane")
    page = window.pages["backplane"]
    assert isinstance(page, BackplanePage)
    qtbot.mouseClick(page.chip_button, Qt.MouseButton.LeftButton)
    _judged(qtbot, window.jobs)
    chip = page.chip
    assert chip.view is not None
    assert "leg 3 (C) reads high, whatever ADDR02 does" in chip.told.text()
    assert "obeys in all" in chip.good.text()
    assert [leg.number for leg in chip.view.legs if leg.may_be_open] == [3]
    assert sum(leg.disobeys for leg in chip.view.legs) == 8
    chip.table.selectRow(0)
    legs = {leg.name: leg for leg in chip.drawing.view.legs}
    first = dict(zip(chip.view.states[0].group.inputs, chip.view.states[0].state.inputs, strict=True))
    assert all(legs[name].suspect_level == level for name, level in first.items())
    qtbot.mouseClick(chip.pins_button, Qt.MouseButton.LeftButton)
    assert chip.table.rowCount() == 14
    row = next(r for r in range(14) if chip.table.item(r, 0).text() == "15 Y0")
    chip.table.selectRow(row)
    assert window.session.chosen.signal == "SEL0"
    assert "differs from the good board in" in chip.outputs.text()
    window.session.choose(cycle=400)
    assert chip.view.cycle == 400
    chip.write_in_log()
    entry = window.session.case.entries[-1]
    assert (entry.kind, entry.cycle) == ("suspected", 307)
    assert "leg 3 (C) reads high" in entry.text
    assert "Known-good: 74LS138 obeys" in entry.details
    _clip_without_a_list(qtbot, window, page)


def _clip_without_a_list(qtbot, window: Window, page: BackplanePage) -> None:
    """The same answer where only the number on the chip is typed: the sheet's pins are legs."""
    window.session.change(SetPinList(None))
    assert "Clip… asks for the number" in page.chip.does.text()
    for number, told in (("7499", "The table has no part"), ("74LS138", "")):
        page.chip.open_clip_form()
        form = page.chip.clip_form
        form.number.setText(number)
        form.name.setText("U14")
        qtbot.mouseClick(form.keep, Qt.MouseButton.LeftButton)
        assert told in form.note.text()
        form.reject()
    _judged(qtbot, window.jobs)
    assert window.session.case.pins is not None
    assert {row.direction for row in window.session.case.pins.rows} == {"in", "out", "supply"}
    # leg 5 was not clipped, so less is judged; what is wrong is found all the same
    assert page.chip.found[0].suspect is not None
    assert page.chip.found[0].suspect.not_captured == ("G2B_n",)
    assert window.session.undo() == "use a pin list"


def test_readings_change_the_likely_causes_at_once(qtbot, bench: Bench) -> None:
    session, page = bench.session, bench.whole.crate
    told: list[str] = []
    session.listen(told.append)
    assert session.comparison is not None
    cause = session.comparison.causes[0]
    assert cause.signal == "D03"
    qtbot.keyClicks(page.net_panel.entry, "open")
    qtbot.keyClick(page.net_panel.entry, Qt.Key.Key_Return)
    now = session.comparison.causes[0]
    assert "The wire or its wraps between 6-B22 and 7-B04 may be broken or poor." in now.because
    assert "once more" in now.probe_next
    assert told == ["case", "causes"]
    session.undo()
    assert session.comparison.causes[0] == cause


def test_from_the_likely_cause_to_its_pin_and_back(qtbot, compared: Window, tmp_path: Path) -> None:
    """In the window: the card's button leads to the pin, the net's button back to the card."""
    compared.show_page("compare")
    card = next(c for c in compared.pages["compare"].cards.cards if c.property("chosen"))
    button = next(b for b in card.findChildren(QPushButton) if b.text() == "Go to pin")
    qtbot.mouseClick(button, Qt.MouseButton.LeftButton)
    whole = compared.pages["backplane"]
    assert isinstance(whole, BackplanePage)
    assert (compared.current, whole.crate.chosen) == ("backplane", "7-B04")
    whole.crate.choose_pin("7-B01")
    assert not whole.crate.net_panel.back.isVisible()
    whole.crate.choose_pin("7-B04")
    (tmp_path / "pins.csv").write_text(PINS)
    whole.crate.open_pins(tmp_path / "pins.csv")
    qtbot.keyClicks(whole.crate.net_panel.entry, "open")
    qtbot.keyClick(whole.crate.net_panel.entry, Qt.Key.Key_Return)
    qtbot.mouseClick(whole.crate.net_panel.back, Qt.MouseButton.LeftButton)
    assert compared.current == "compare"
    words = " ".join(w.text() for w in compared.pages["compare"].cards.findChildren(QLabel))
    assert "may be broken or poor" in words


def test_the_net_shows_its_driver_its_receivers_and_their_traces(page: CratePane) -> None:
    rows = page.net_panel.rows
    assert [(row.pin.point, row.pin.role) for row in rows] == [("6-B22", "driver"), ("7-B04", "receiver")]
    assert [row.traces.plan is not None for row in rows] == [False, True]
    assert page.net_panel.counts.text() == "1 driver, 1 receiver"
    assert page.view is not None
    assert [(e.start, e.end, e.state) for e in page.view.edges] == [("6-B22", "7-B04", "to measure")]


def test_both_crates_and_readings_of_either(qtbot, page: CratePane) -> None:
    qtbot.mouseClick(page.good_crate, Qt.MouseButton.LeftButton)
    view = page.view
    assert view is not None
    assert (view.side, view.count("diverges")) == ("good", 0)
    assert [e.state for e in view.edges] == ["same"]
    row = next(r for r, p in enumerate(page.table.pairs) if p.card_in)
    page.table.readings.setData(page.table.readings.index(row, GOOD_COLUMN), "2.2k")
    newest = page.context.session.case.continuity.readings[-1]
    assert (newest.side, newest.ohms, newest.card_in) == ("good", 2200.0, True)


def test_the_legend_is_the_filter(qtbot, page: CratePane) -> None:
    qtbot.mouseClick(page.legend["agrees"], Qt.MouseButton.LeftButton)
    assert page.map.hidden_verdicts == {"agrees"}
    view = page.view
    assert view is not None
    assert sum(view.count(verdict) for verdict in page.legend) == view.crate.slots * len(view.crate.rows) * 36
    qtbot.mouseClick(page.filters["To measure"], Qt.MouseButton.LeftButton)
    assert {pair.verdict for pair in page.table.pairs} == {"to measure"}


def test_a_net_runs_over_no_pin_of_another(page: CratePane) -> None:
    """In the gaps, from either side of the crate: no line passes within two pixels of a pin that is not its own."""
    view = page.view
    assert view is not None
    for wiring in (True, False):
        page.map.set_side(wiring=wiring)
        lies = page.map.geometry_now
        one, other = view.spot("6-B22"), view.spot("7-B04")
        assert one is not None
        assert other is not None
        corners = lies.way(one, other)
        foreign = [lies.place(s) for s in view.spots if s not in (one, other)]
        for here, there in pairwise(corners):
            assert here.x() == pytest.approx(there.x()) or here.y() == pytest.approx(there.y())
            for pin in foreign:
                across = min(here.x(), there.x()) - 2 < pin.x() < max(here.x(), there.x()) + 2
                along = min(here.y(), there.y()) - 2 < pin.y() < max(here.y(), there.y()) + 2
                assert not (across and along), (here, there, pin)


def test_the_place_that_all_readings_leave_parts_the_line(qtbot, bench: Bench, tmp_path: Path) -> None:
    """Two readings halve the path; the piece between was read by neither of them, and is drawn as parted."""
    page = bench.whole.crate
    (tmp_path / "three.csv").write_text(PINS + "D03,9,B11,U2 7404,1,in,\n")
    text = (tmp_path / "three.csv").read_text().splitlines()
    (tmp_path / "three.csv").write_text("\n".join([text[0], text[1], text[4], text[2], text[3]]) + "\n")
    page.open_pins(tmp_path / "three.csv")
    for typed in ("open", "0.2"):
        qtbot.keyClicks(page.net_panel.entry, typed)
        qtbot.keyClick(page.net_panel.entry, Qt.Key.Key_Return)
    assert page.view is not None
    assert [(e.start, e.end, e.state) for e in page.view.edges] == [
        ("6-B22", "9-B11", "same"), ("9-B11", "7-B04", "broken"),
    ]  # fmt: skip
    qtbot.mouseClick(page.good_crate, Qt.MouseButton.LeftButton)
    assert [e.state for e in page.view.edges] == ["to measure", "to measure"]


def test_what_was_read_goes_into_the_log_as_measured(qtbot, bench: Bench) -> None:
    page = bench.whole.crate
    qtbot.mouseClick(page.net_panel.log, Qt.MouseButton.LeftButton)
    assert bench.session.case.entries == ()
    qtbot.keyClicks(page.net_panel.entry, "open")
    qtbot.keyClick(page.net_panel.entry, Qt.Key.Key_Return)
    qtbot.mouseClick(page.net_panel.log, Qt.MouseButton.LeftButton)
    entry = bench.session.case.entries[0]
    assert entry.kind == "measured"
    assert entry.text == "Net D03: The wire or its wraps between 6-B22 and 7-B04 may be broken or poor."
    assert [(r.where, r.good, r.suspect, r.unit) for r in entry.readings] == [
        ("6-B22 to 7-B04", "0.2", "open", "ohm"),
    ]  # fmt: skip
