"""The line of notices: the gravest first, an alarm only where there is cause for one, and nothing said twice."""

from __future__ import annotations

from app.widgets.controls.notice_line import NoticeLine
from tracecore.notices import notice

LEAST = notice("ends_not_compared", "Not compared, since the other side does not reach there: known-good, 4 cycles.")
LOOK = notice("swapped_leads", "Leads D02 and D03 look swapped.")


def test_what_is_only_to_know_is_no_alarm(qtbot) -> None:
    line = NoticeLine()
    qtbot.addWidget(line)
    line.set_notices((LEAST,))
    assert line.property("calm")
    assert line.first.objectName() == "muted"
    line.set_notices((LEAST, LOOK))
    assert not line.property("calm")
    assert line.first.objectName() == "warning"
    assert line.first.text() == LOOK.text


def test_unfolded_each_stands_there_once(qtbot) -> None:
    line = NoticeLine()
    qtbot.addWidget(line)
    line.set_notices((LOOK, LEAST))
    line.more.setChecked(True)
    assert line.first.text() == "2 notices"
    assert [words.startswith(LOOK.text) for words in line.unfolded()].count(True) == 1
    line.more.setChecked(False)
    assert line.first.text() == LOOK.text
