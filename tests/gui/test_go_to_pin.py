"""Go to pin shows the pin of the chosen signal, or says that none is known: never another pin in its place."""

from __future__ import annotations

from dataclasses import replace

from PySide6.QtWidgets import QLabel, QPushButton

from app.case.changes import SetSheet
from app.case.circuit_changes import SetPinList
from app.case.record import OpenCase
from app.cli.run import demo_request
from app.model.crate import backplane_view, no_pin_words, pin_of_signal
from app.shell.window import Window
from demo_traces import CASES
from tests.gui.backplane_bench import Bench
from tracecore.circuit.pin_list import PinList, Pinned
from tracecore.circuit.probe_sheet import Probe, ProbeSheet
from tracecore.comparison import compare

# the clip's leg stands where a slot's pin would: slot 7 has no pin 14
CLIPPED = ProbeSheet((Probe("L0", "MCLK", "7", "A02"), Probe("L1", "SEL1", "7", "14")))
LEGS = PinList((Pinned("SEL1", part="U14", number="74138", part_pin="14", direction="out"),))


def test_a_leg_under_a_clip_is_found_on_the_pin_list_alone() -> None:
    assert pin_of_signal(OpenCase(sheet=CLIPPED), "MCLK") == "7-A02"
    assert pin_of_signal(OpenCase(sheet=CLIPPED), "SEL1") == ""
    assert pin_of_signal(OpenCase(sheet=CLIPPED, pins=LEGS), "SEL1") == "U14-14"
    assert backplane_view(OpenCase(sheet=CLIPPED, pins=LEGS), None, "U14-14").net == "SEL1"


def test_an_unknown_pin_is_no_other_pin() -> None:
    assert backplane_view(OpenCase(sheet=CLIPPED), None, "7-14").chosen == ""


def _without_pin(bench: Bench) -> None:
    """D03's row loses slot and pin, and the pin list its net."""
    sheet = bench.session.case.sheet
    rows = tuple(replace(p, slot="", pin="") if p.signal == "D03" else p for p in sheet.probes)
    bench.session.change(SetPinList(PinList()))
    bench.session.change(SetSheet(replace(sheet, probes=rows)))


def test_the_page_says_that_a_signal_has_no_pin(bench: Bench) -> None:
    crate = bench.whole.crate
    _without_pin(bench)
    said: list[str] = []
    crate.said.connect(said.append)
    bench.session.choose(signal="D00")
    assert crate.chosen == "7-B01"
    bench.session.choose(signal="D03")
    bench.whole.do("go_to_pin")
    assert crate.chosen == ""
    assert crate.net_panel.title.text() == "No pin to show"
    assert crate.net_panel.counts.text() == f"{no_pin_words('D03')}."
    assert no_pin_words("D03") in said


def test_the_card_greys_the_button_and_the_key_stays_where_it_is(qtbot, compared: Window) -> None:
    page = compared.pages["compare"]

    def button() -> QPushButton:
        return next(b for b in page.cards.findChildren(QPushButton) if b.text() == "Go to pin" and b.isVisible())

    assert button().isEnabled()
    sheet = compared.session.case.sheet
    rows = tuple(replace(p, slot="", pin="", driver="") if p.signal == "D03" else p for p in sheet.probes)
    compared.session.change(SetSheet(replace(sheet, probes=rows)))
    qtbot.waitUntil(lambda: compared.session.current and compared.jobs.idle, timeout=120_000)
    assert compared.session.chosen.signal == "D03"
    assert not button().isEnabled()
    assert button().toolTip() == no_pin_words("D03")
    assert any(words.text() == f"{no_pin_words('D03')}." for words in page.cards.findChildren(QLabel))
    compared.act("go_to_pin")
    assert compared.current == "compare"
    assert compared.bottom.line.text() == no_pin_words("D03")
    compared.session.change(SetPinList(PinList((Pinned("D03", "7", "B04", "U7", "", "2", "in"),))))
    assert button().isEnabled()


def test_legs_under_a_clip_have_their_verdicts_beside_the_map() -> None:
    request = demo_request(CASES["clip"])
    case, found = OpenCase(sheet=request.sheet, pins=request.pins), compare(request)
    view = backplane_view(case, found, "U14-14")
    points = {own.point: own for own in view.net_pins}
    assert (points["U14-14"].verdict, points["U14-14"].words, points["U14-14"].signal) == (
        "diverges",
        "stuck high",
        "SEL1",
    )
    assert points["U20-2"].verdict == "not probed"
    assert (view.count("diverges"), view.count("agrees")) == (8, 16)
    assert backplane_view(case, found, "U14-14", "good").count("diverges") == 0
