"""Leads in a ring, turned over, or several at once: offered on the card and beside the sheet, mended, taken back."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

from PySide6.QtWidgets import QLabel, QPushButton

from app.case.lead_corrections import leads_of
from app.model.capture_cards import cards
from app.report.cautions import AT_THE_PINS
from app.shell.window import Window
from tests.gui.conftest import settle
from tests.gui.test_captures_page import judged, open_card, write
from tests.plant import Plant, Side
from tracecore.circuit.probe_sheet import Probe, write_probe_sheet


def clipped(side: Side, reads: dict[str, str]) -> Side:
    """The same crate with clips on each other's pins."""
    return replace(side, pins={**side.pins, **{a: side.pins[b] for a, b in reads.items()}})


def opened(qtbot, window: Window, folder: Path, reads: dict[str, str], turned: str = "") -> Window:
    pair = Plant(seed=3, cycles=700, offset_cycles=5).clean()
    probes = [Probe(str(i), p.signal, p.slot, p.pin) for i, p in enumerate(pair.sheet.probes)]
    (folder / "sheet.csv").write_text(write_probe_sheet(probes), "utf-8")
    good, bad = write(folder / "good.csv", pair.good), write(folder / "bad.csv", clipped(pair.suspect, reads))
    if turned:
        column = next(int(p.channel) for p in probes if p.signal == turned)
        lines = bad.read_text("utf-8").split("\n")
        rows = [i for i, line in enumerate(lines) if i > 1 and line]
        for i in rows:
            cells = lines[i].split(",")
            cells[column] = str(1 - int(cells[column]))
            lines[i] = ",".join(cells)
        bad.write_text("\n".join(lines), "utf-8")
    window.files.open_case([good], [bad], folder / "sheet.csv", clock="MCLK")
    judged(qtbot, window)
    window.show_page("captures")
    return window


def press(card, words: str) -> None:
    next(b for b in card.findChildren(QPushButton) if b.accessibleName() == words or b.text() == words).click()


def test_a_ring_is_mended_by_one_press_and_taken_back_by_one_undo(qtbot, window: Window, tmp_path: Path) -> None:
    page = opened(qtbot, window, tmp_path, {"D00": "D01", "D01": "D02", "D02": "D00"})
    (offer,) = cards(page.session, "suspect")[0].offers
    assert offer.topic == "ring"
    before = page.session.case.suspect.captures[0]
    table = page.pages["captures"].table
    page.resize(1600, 900)
    settle()
    assert [button.text() for _, button in table._buttons] == ["Move 3 leads"]
    press(open_card(page, "suspect", 0), "Move them in the sheet")
    judged(qtbot, page)
    after = page.session.case.suspect.captures[0]
    assert sorted(c for c, lead in leads_of(after).items() if c != lead) == sorted(offer.channels)
    words = cards(page.session, "suspect")[0]
    assert (words.offers, words.kind) == ((), "left")
    assert words.sentences[0].text.startswith("Put right for this capture alone: ")
    assert page.session.undo() == "move leads"
    assert page.session.case.suspect.captures[0] == before


def test_a_lead_that_reads_the_opposite_is_turned_over_but_never_as_certain(
    qtbot, window: Window, tmp_path: Path
) -> None:
    page = opened(qtbot, window, tmp_path, {}, turned="D03")
    (offer,) = cards(page.session, "suspect")[0].offers
    assert (offer.topic, offer.certain) == ("inverted", False)
    card = open_card(page, "suspect", 0)
    button = next(b for b in card.findChildren(QPushButton) if b.accessibleName() == "Turn it over in the sheet")
    assert button.property("role") != "decision"
    # hands go to the clips
    assert AT_THE_PINS in [found.text() for found in card.findChildren(QLabel)]
    button.click()
    judged(qtbot, page)
    assert page.session.case.suspect.captures[0].inverted == offer.channels
    assert cards(page.session, "suspect")[0].offers == ()
    assert page.session.comparison.signal("D03").verdict == "agrees"
    press(open_card(page, "suspect", 0), "Put leads back")
    judged(qtbot, page)
    assert cards(page.session, "suspect")[0].offers == (offer,)
    press(open_card(page, "suspect", 0), "Leave as it is")
    judged(qtbot, page)
    assert cards(page.session, "suspect")[0].offers == ()


def test_several_mistakes_are_put_right_by_one_press(qtbot, window: Window, tmp_path: Path) -> None:
    reads = {"D00": "D01", "D01": "D00", "D02": "STB", "STB": "D02"}
    page = opened(qtbot, window, tmp_path, reads, turned="ACK")
    offers = cards(page.session, "suspect")[0].offers
    assert sorted(o.topic for o in offers) == ["inverted", "swapped", "swapped"]
    card = open_card(page, "suspect", 0)
    assert sum(b.property("role") == "decision" for b in card.findChildren(QPushButton)) <= 1
    assert any("look swapped" in found.text() for found in card.findChildren(QLabel))
    press(card, "Put all right in the sheet")
    judged(qtbot, page)
    assert cards(page.session, "suspect")[0].offers == ()
    assert all(f.verdict == "agrees" for f in page.session.comparison.signals)
    assert page.session.undo() == "put the leads right"
