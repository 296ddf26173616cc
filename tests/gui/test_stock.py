"""The form of moved parts offers what the stock has: the same number first, then what the table allows in its place."""

from __future__ import annotations

from pathlib import Path

from PySide6.QtCore import Qt

from app.case.changes import Put
from app.case.circuit_changes import SetDonors
from app.case.record import OpenCase
from app.case.values import PartMove
from app.model.stock import left_in_stock, offers_for
from app.shell.window import Window
from app.widgets.log.log_forms import PartForm
from tracecore.circuit.parts.replacements import Donor

STOCK = (
    Donor("donor 2", "U9", "74S138A", "7401"),
    Donor("donor 2", "U14", "74LS138", "7338"),
    Donor("donor 1", "U3", "7400"),
)


def test_what_the_log_has_moved_is_no_longer_left() -> None:
    case = SetDonors(STOCK).applied(OpenCase())
    assert [offer.donor.position for offer in offers_for(case, "74LS138")] == ["U14", "U9"]
    case = Put(PartMove(0, "74LS138", "donor 2, U14", "slot 7, U14")).applied(case)
    assert left_in_stock(case) == (STOCK[0], STOCK[2])
    assert [offer.donor.position for offer in offers_for(case, "74LS138")] == ["U9"]
    assert "family 74S; faster" in offers_for(case, "74LS138")[0].words
    assert offers_for(case, "9999") == ()


def test_a_donor_that_is_chosen_fills_the_form_in(qtbot) -> None:
    case = SetDonors(STOCK).applied(OpenCase())
    form = PartForm(None, lambda number: offers_for(case, number))
    qtbot.addWidget(form)
    form.show()
    assert form.stock.currentText() == "Type the part's number first"
    qtbot.keyClicks(form.part, "74LS138")
    assert form.stock.count() == 3
    form.stock.setFocus()
    qtbot.keyClick(form.stock, Qt.Key.Key_Down)
    form.stock.activated.emit(form.stock.currentIndex())
    assert (form.part.text(), form.source.text(), form.code.text()) == ("74LS138", "donor 2, U14", "7338")
    assert "1973, week 38" in form.code_words.text()
    got: list[tuple[str, object]] = []
    form.filled.connect(lambda part, ways: got.append((part, ways)))
    form.target.setText("slot 7, U14")
    qtbot.mouseClick(form.keep, Qt.MouseButton.LeftButton)
    assert got == [("74LS138", (("donor 2, U14", "slot 7, U14", "7338"),))]


def test_a_stock_list_comes_into_the_case_from_the_log(qtbot, window: Window, tmp_path: Path) -> None:
    window.show_page("log")
    page = window.pages["log"]
    (tmp_path / "donors.csv").write_text("board,position,number,date_code\ndonor 2,U14,74LS138,7338\n")
    page.open_stock(tmp_path / "donors.csv")
    assert window.session.case.donors == (STOCK[1],)
    troubled: list[str] = []
    page.troubled.disconnect()
    page.troubled.connect(troubled.append)
    (tmp_path / "bad.csv").write_text("board,position\n1,2\n")
    page.open_stock(tmp_path / "bad.csv")
    assert "no column 'number'" in troubled[0]
    window.session.undo()
    assert window.session.case.donors == ()
