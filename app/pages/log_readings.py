"""Readings of the opened line of the log, and their way to the readings of the Backplane page."""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING

from app.case.values import Reading
from app.model.log_changes import count_change, reading_change
from app.model.log_lines import chosen_entry
from app.widgets.controls.forms import open_form

if TYPE_CHECKING:
    from app.pages.log import LogPage


class LogReadings:
    """Each ``do_`` method is an action of the table."""

    def __init__(self, page: LogPage) -> None:
        self.page, self.session = page, page.context.session

    def actions(self) -> dict[str, Callable[[], None]]:
        """Each action of the table that is done here."""
        return {"add_reading": self.do_add_reading, "count_readings": self.do_count_readings}

    def do_add_reading(self) -> None:
        """A form for what a meter said."""
        from app.widgets.log.log_forms import ReadingForm

        session, entry = self.session, self.page.opened_entry
        if not self.page.has_entry() or entry is None:
            return

        def put(reading: Reading, counts: bool) -> None:
            now = chosen_entry(session.case, entry.id) or entry
            if session.change(reading_change(now, reading, session.author, counts=counts)) and counts:
                self.page.said.emit("In the log, and among the readings of Backplane; Ctrl+Z takes it back")

        form = ReadingForm(self.page)
        form.filled.connect(put)
        open_form(form)

    def do_count_readings(self) -> None:
        """Puts the opened entry's ohms among the readings of Backplane."""
        entry = self.page.opened_entry
        if not self.page.has_entry() or entry is None:
            return
        change = count_change(self.session.case, entry)
        if change is None:
            self.page.said.emit("This entry has no ohms between two pins that Backplane lacks")
        elif self.session.change(change):
            self.page.said.emit("The readings are among those of Backplane now; Ctrl+Z takes them back")
