"""The Backplane page alone, on a case that was compared: no window is opened for it, so that its tests are fast."""

from __future__ import annotations

from pathlib import Path

from app.case.changes import Begin
from app.case.record import OpenCase
from app.model.jobs import Jobs
from app.model.page_context import PageContext
from app.model.session import Session
from app.model.theme import LIGHT
from app.pages.backplane import BackplanePage
from tracecore.comparison import Comparison

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


class Bench:
    """The page alone, on a case that was compared, with what it asked of the window."""

    def __init__(self, comparison: Comparison, folder: Path) -> None:
        self.session, self.jobs, self.asked = Session(), Jobs(), list[str]()
        self.session.change(Begin(OpenCase(sheet=comparison.request.sheet)))
        self.session.answered(self.session.case, comparison)
        self.whole = BackplanePage(PageContext(self.session, self.act, LIGHT, 1.0), self.jobs)
        self.session.listen(self.whole.refresh)
        (folder / "pins.csv").write_text(PINS)
        (folder / "readings.csv").write_text(READINGS)
        self.whole.crate.open_pins(folder / "pins.csv")
        self.whole.crate.open_readings(folder / "readings.csv")

    def act(self, name: str) -> None:
        """The window's part."""
        self.asked.append(name)
        if name == "undo":
            self.session.undo()
