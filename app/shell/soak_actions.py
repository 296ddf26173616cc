"""The watched folder beside the window: opened by an action, ended with the window."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from app.shell.frame import Frame
    from app.widgets.forms.soak_form import SoakForm


class SoakActions:
    """Each ``do_`` method is an action of the table. There is one form; a watch goes on while it is hidden."""

    def __init__(self, window: Frame) -> None:
        self.window = window
        self.form: SoakForm | None = None

    def actions(self) -> dict[str, Callable[[], None]]:
        """Each action of the table that is done here."""
        return {
            "watch_folder": self.do_watch_folder,
        }

    def do_watch_folder(self) -> None:
        """Opens the form; one that is there already comes to the front."""
        if self.form is None:
            from app.widgets.forms.soak_form import SoakForm

            context = self.window.context
            self.form = SoakForm(self.window.session, context.theme, context.scale, self.window)
            self.form.captureWanted.connect(self.show_capture)
            self.form.said.connect(self.window.say)
            self.form.counted.connect(self._show_count)
        self.form.set_scale(self.window.context.scale)
        self.form.show()
        self.form.raise_()
        self._show_count()

    def _show_count(self) -> None:
        """The count stands in the frame while the form is closed and the watch goes on."""
        form = self.form
        away = form is not None and form.isHidden() and form.watch.running
        self.window.bottom.show_watch(f"Watching: {form.watch.count.words}" if form is not None and away else "")

    def show_capture(self, path: Path) -> None:
        """Takes a capture into the case, on the suspect side, and shows what it differs in."""
        self.window.files.show_answer = True
        self.window.files.open_shown("suspect", path)

    def close_up(self) -> None:
        """Ends the watch."""
        if self.form is not None:
            self.form.watch.stop()
            self.form.close()
            self.form = None
            self.window.bottom.show_watch("")
