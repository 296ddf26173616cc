"""How the window looks, and the sheets of help: theme, size of the text, guide, keys, cautions."""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING

from app.model.settings import STEP

if TYPE_CHECKING:
    from app.shell.frame import Frame


class ViewActions:
    """Each ``do_`` method is an action of the table."""

    def __init__(self, window: Frame) -> None:
        self.window = window

    def actions(self) -> dict[str, Callable[[], None]]:
        """Each action of the table that is done here."""
        return {
            "theme": self.do_theme,
            "text_larger": self.do_text_larger,
            "text_smaller": self.do_text_smaller,
            "text_normal": self.do_text_normal,
            "guide": self.do_guide,
            "key_sheet": self.do_key_sheet,
            "cautions": self.do_cautions,
            "version": self.do_version,
        }

    def do_theme(self) -> None:
        """Changes between light and dark."""
        settings = self.window.settings
        settings.dark = not settings.dark
        self.window.apply_look()

    def set_text(self, percent: int) -> None:
        """The size of the text, in per cent; the settings keep it within what can be read and fits."""
        settings = self.window.settings
        settings.text_percent = percent
        self.window.apply_look()
        self.window.say(f"Text at {settings.text_percent} %")

    def do_text_larger(self) -> None:
        """Larger text."""
        self.set_text(self.window.settings.text_percent + STEP)

    def do_text_smaller(self) -> None:
        """Smaller text."""
        self.set_text(self.window.settings.text_percent - STEP)

    def do_text_normal(self) -> None:
        """Text at 100 %."""
        self.set_text(100)

    def do_guide(self) -> None:
        """Shows the guide at the chapter of the page that is open."""
        from app.help.sheets import guide

        guide(self.window, self.window.current).show()

    def do_key_sheet(self) -> None:
        """Shows all keys."""
        from app.help.sheets import keys
        from app.steps.step import all_steps

        keys(self.window, tuple(step.row for step in all_steps())).show()

    def do_cautions(self) -> None:
        """Shows the cautions."""
        from app.help.sheets import cautions

        cautions(self.window).show()

    def do_version(self) -> None:
        """Shows which version this is."""
        from app.help.sheets import version

        version(self.window).show()

    def greet(self) -> None:
        """Shows the short caution at the foot until it was sent away once."""
        self.window.caution.setVisible(not self.window.settings.cautions_seen)

    def note_cautions(self) -> None:
        """The caution was read and sent away."""
        self.window.settings.cautions_seen = True
        self.window.settings.save()
