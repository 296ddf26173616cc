"""A bench card from the window: written, filled, and in the log."""

from __future__ import annotations

from pathlib import Path

import pytest
from pypdf import PdfReader

from app.shell.window import Window
from app.widgets.forms.card_dialog import CardDialog
from app.widgets.forms.card_form import CardForm


def test_a_card_is_written_and_what_was_read_comes_back_by_its_number(
    qtbot, compared: Window, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    path = tmp_path / "card.pdf"
    monkeypatch.setattr("app.shell.case_actions.QFileDialog.getSaveFileName", lambda *_: (str(path), ""))
    compared.act("bench_card")
    qtbot.waitUntil(lambda: bool(compared.session.case.cards), timeout=120_000)
    (card,) = compared.session.case.cards
    assert (card.number, card.signal) == ("1-1", "D03")
    assert "Bench card 1-1" in PdfReader(path).pages[0].extract_text()

    compared.act("fill_card")
    dialog = compared.findChild(CardDialog)
    dialog.form.rows[0].boxes[0].setText("180 ohm")
    dialog.form.rows[0].good.setText("0.2 ohm")
    dialog.form.keep.click()
    case = compared.session.case
    assert case.cards[0].filled[0][0] == "180 ohm"
    entry = case.entries[-1]
    assert (entry.kind, entry.text) == ("measured", "Bench card 1-1: 1 reading")
    reading = entry.readings[0]
    assert (reading.where, reading.good, reading.suspect) == (card.rows[0].probe, "0.2 ohm", "180 ohm")
    # the causes follow at once, as they follow what is typed on Backplane
    assert [(r.ohms, r.side) for r in case.continuity.readings] == [(0.2, "good"), (180.0, "suspect")]
    assert "Read with a meter on its net" in compared.session.comparison.causes[0].because[0]
    assert compared.session.undo() == "fill a bench card"
    assert (compared.session.case.entries, compared.session.case.cards[0].filled) == ((), ())


def _two_cards(window: Window) -> CardDialog:
    """The form for the cards 14-1 and 14-2, with 14-2 open."""
    from app.case.changes import Put
    from app.case.values import BenchCard, CardRow

    row = CardRow("off", "6-B22 to 7-B04", "at the wrap posts", "0.2 ohm", "above 1 ohm: raised", "ohm")
    for number in ("14-1", "14-2"):
        window.session.change(Put(BenchCard(0, number, "D03", None, "a finding", (row,))))
    window.act("fill_card")
    dialog = window.findChild(CardDialog)
    assert isinstance(dialog, CardDialog)
    return dialog


def test_another_number_takes_the_place_of_the_form(qtbot, window: Window) -> None:
    dialog = _two_cards(window)
    assert dialog.form.accessibleName() == "Bench card 14-2"
    dialog.numbers.setCurrentText("14-1")
    qtbot.waitUntil(lambda: dialog.form.isVisible())
    shown = [form.accessibleName() for form in dialog.findChildren(CardForm) if form.isVisible()]
    dialog.close()
    assert shown == ["Bench card 14-1"]


def test_what_was_typed_in_one_card_outlives_a_look_at_another(qtbot, window: Window) -> None:
    dialog = _two_cards(window)
    assert not dialog.holds_words
    dialog.form.rows[0].boxes[0].setText("180")
    dialog.numbers.setCurrentText("14-1")
    assert dialog.holds_words
    dialog.form.rows[0].boxes[0].setText("0.3")
    dialog.form.keep.click()
    # the other one still holds what was typed: it comes next, and only then the form is closed
    assert dialog.isVisible()
    assert dialog.form.rows[0].boxes[0].text() == "180"
    dialog.form.keep.click()
    assert not dialog.isVisible()
    assert [card.filled for card in window.session.case.cards] == [(("0.3",),), (("180",),)]


def test_without_a_finding_or_a_card_a_sentence_says_so(window: Window) -> None:
    window.act("bench_card")
    assert "made of a likely cause" in window.bottom.line.text()
    window.act("fill_card")
    assert "has no bench card yet" in window.bottom.line.text()
