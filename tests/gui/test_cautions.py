"""Wherever the window sends hands to a pin, the short caution stands beside it."""

from __future__ import annotations

from PySide6.QtGui import QGuiApplication
from PySide6.QtWidgets import QLabel

from app.model.theme import LIGHT
from app.report.cautions import AT_THE_PINS
from app.shell.window import Window
from app.widgets.controls.notice_line import NoticeLine
from demo_traces import CASES
from tracecore.notices import notice


def told(widget: object) -> list[str]:
    return [label.text() for label in widget.findChildren(QLabel)]  # type: ignore[attr-defined]


def test_card_copy_line_and_log_of_a_finding_have_it(compared: Window) -> None:
    page = compared.pages["compare"]
    assert AT_THE_PINS in told(page.cards)
    compared.act("copy_finding")
    assert AT_THE_PINS in QGuiApplication.clipboard().text().splitlines()
    compared.act("write_in_log")
    lines = compared.session.case.entries[-1].details.splitlines()
    assert lines[lines.index(AT_THE_PINS) - 1].startswith("Probe next: ")
    page.first.show_cause(compared.session.comparison)
    assert AT_THE_PINS in told(page.first)
    assert page.first.caution.isVisibleTo(page.first)
    page.first.set_theme(LIGHT, 2.0)
    assert page.first.caution.isHidden()
    assert page.first.words.text().endswith(AT_THE_PINS)
    page.first.set_theme(LIGHT, 1.0)
    assert page.first.caution.isVisibleTo(page.first)
    assert AT_THE_PINS not in page.first.words.text()
    assert AT_THE_PINS in page.first.accessibleDescription()


def test_levels_in_card_and_log_have_it(qtbot, window: Window) -> None:
    window.files.open_demo(CASES["contact"])
    qtbot.waitUntil(lambda: window.session.current and window.session.levels_and_timing is not None, timeout=120_000)
    window.show_page("levels")
    page = window.pages["levels"]
    assert page.card.caution.isVisibleTo(page.card)
    page.panel.fold(True)
    page.show_row(page.list.rows.rows[0])
    assert page.told_above.isVisibleTo(page)
    # in one line of its own where the page is low
    above = page.caution_above if page.caution_above.isVisibleTo(page) else page.told_above
    assert above.text().endswith(AT_THE_PINS) or above.toolTip() == AT_THE_PINS
    entry = page.entry(page.list.rows.rows[0])
    assert entry is not None
    assert AT_THE_PINS in entry.details.splitlines()


def test_notices_that_send_hands_to_a_clip_have_it(qtbot) -> None:
    line = NoticeLine()
    qtbot.addWidget(line)
    line.set_notices((notice("swapped_leads", "Leads D02 and D03 look swapped."),))
    line.more.setChecked(True)
    assert AT_THE_PINS in line.unfolded()
    line.set_notices((notice("no_lineup", "No line-up: nothing fits."),))
    line.more.setChecked(True)
    assert line.unfolded()
    assert AT_THE_PINS not in line.unfolded()
