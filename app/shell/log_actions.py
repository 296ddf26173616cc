"""The actions of the log while another page is open: a line written at once, and a finding taken down."""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING

from app.case.record import next_id
from app.model.log_changes import finding_line, line_change
from app.shell.line_drafts import LineDrafts
from app.widgets.log.quick_line import QuickLine

if TYPE_CHECKING:
    from app.shell.frame import Frame


class LogActions:
    """Each ``do_`` method is an action of the table."""

    def __init__(self, window: Frame) -> None:
        self.window = window
        self.session = window.session
        self.strip: QuickLine | None = None
        self.drafts = LineDrafts(window.session, window.settings)

    def actions(self) -> dict[str, Callable[[], None]]:
        """Each action of the table that is done here."""
        return {
            "new_line": self.do_new_line,
            "write_in_log": self.do_write_in_log,
        }

    def retheme(self) -> None:
        """The look changed."""
        if self.strip is not None:
            self.strip.set_look(self.window.context.theme, self.window.context.scale)

    def do_new_line(self) -> None:
        """Opens the strip at the foot of the window."""
        if self.strip is None:
            context = self.window.context
            self.strip = QuickLine(self.session, context.theme, context.scale)
            self.strip.signed.connect(self.window.sign)
            self.strip.kept.connect(self.window.say)
            self.strip.closed.connect(lambda: self.window.pages[self.window.current].setFocus())
            self.window.foot.addWidget(self.strip)
            self.drafts.attach("any page", self.strip.strip)
            self.window.stack.currentChanged.connect(lambda _index: self._make_way())
        self.strip.begin()

    def _make_way(self) -> None:
        """The Log page has a strip of its own."""
        if self.strip is not None and self.window.current == "log":
            self.strip.hide()

    def do_write_in_log(self) -> None:
        """Takes the chosen likely cause down as suspected, with its evidence and its figure."""
        cause = self.session.cause(self.session.chosen.cause)
        if cause is None or not self.session.current:
            self.window.say("No finding to write in the log")
            return
        number = next_id(self.session.case.entries)
        entry = finding_line(self.session, cause)
        if self.session.change(line_change(self.session.case, entry)):
            self.session.choose(entry=number)
            self.window.say(f"In the log as entry {number}: {entry.text}")
