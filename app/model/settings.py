"""What a person set once and expects to find again: theme, text size, cautions seen."""

from __future__ import annotations

import os
from hashlib import sha256
from pathlib import Path

from PySide6.QtCore import QSettings

from app.case.shelf import LARGEST_INSIDE_BYTES
from app.own_folders import own_folder

SMALLEST, LARGEST, STEP = 100, 200, 20
MOST_RECENT = 8


class Settings:
    """Kept in one file; ``path`` None takes the usual place, or the folder that TWINSLOT_SETTINGS names."""

    def __init__(self, path: str | Path | None = None) -> None:
        if path is None:
            path = Path(_folder()) / "settings.ini"
        self._store = QSettings(str(path), QSettings.Format.IniFormat)

    @property
    def dark(self) -> bool:
        """Is the dark theme chosen?"""
        return str(self._store.value("dark", "no")) == "yes"

    @dark.setter
    def dark(self, dark: bool) -> None:
        self._store.setValue("dark", "yes" if dark else "no")

    @property
    def text_percent(self) -> int:
        """Text size in percent, 100 to 200."""
        text = str(self._store.value("text_percent", SMALLEST))
        return min(LARGEST, max(SMALLEST, int(text))) if text.isdecimal() else SMALLEST

    @text_percent.setter
    def text_percent(self, percent: int) -> None:
        self._store.setValue("text_percent", min(LARGEST, max(SMALLEST, percent)))

    @property
    def initials(self) -> str:
        """What log entries are signed with; empty where nobody has said."""
        return str(self._store.value("initials", ""))

    @initials.setter
    def initials(self, initials: str) -> None:
        self._store.setValue("initials", initials)

    @property
    def largest_inside_mb(self) -> int:
        """Captures up to this size, in MB of 2^20 bytes, go into the case; larger ones are linked."""
        text = str(self._store.value("largest_inside_mb", LARGEST_INSIDE_BYTES >> 20))
        return int(text) if text.isdecimal() else LARGEST_INSIDE_BYTES >> 20

    @largest_inside_mb.setter
    def largest_inside_mb(self, size: int) -> None:
        self._store.setValue("largest_inside_mb", size)

    @property
    def cases_folder(self) -> str:
        """Where earlier cases are looked for, besides the folder of the open one; empty where nobody has said."""
        return str(self._store.value("cases_folder", ""))

    @cases_folder.setter
    def cases_folder(self, folder: str) -> None:
        self._store.setValue("cases_folder", folder)

    def line_draft(self, case: str, place: str) -> str:
        """The line of the log that was begun in a case at that place, as text; empty where none waits."""
        return str(self._store.value(f"drafts/{_key(case)}/{place}", ""))

    def set_line_draft(self, case: str, place: str, text: str) -> None:
        """Keeps a line that was begun; an empty one takes it away."""
        name = f"drafts/{_key(case)}/{place}"
        if text:
            self._store.setValue(name, text)
        else:
            self._store.remove(name)

    def import_choice(self, shape: str) -> str:
        """What was said of files of that shape, as text; empty where nothing was."""
        return str(self._store.value(f"files/{shape}", ""))

    def set_import_choice(self, shape: str, text: str) -> None:
        """Keeps what was said of files of that shape."""
        self._store.setValue(f"files/{shape}", text)

    @property
    def last_case(self) -> str:
        """The case that was open when the window was closed; empty for one without a name."""
        return str(self._store.value("last/case", ""))

    @last_case.setter
    def last_case(self, path: str) -> None:
        self._store.setValue("last/case", path)

    @property
    def last_page(self) -> str:
        """The page that was open then."""
        return str(self._store.value("last/page", ""))

    @last_page.setter
    def last_page(self, name: str) -> None:
        self._store.setValue("last/page", name)

    @property
    def last_window(self) -> tuple[int, int, int, int, bool] | None:
        """Left, top, width and height of the window in pixels, and whether it filled the screen."""
        parts = str(self._store.value("last/window", "")).split(" ")
        if len(parts) != 5 or not all(part.lstrip("-").isdecimal() for part in parts):
            return None
        left, top, width, height, filled = (int(part) for part in parts)
        return left, top, width, height, bool(filled)

    @last_window.setter
    def last_window(self, area: tuple[int, int, int, int, bool]) -> None:
        self._store.setValue("last/window", " ".join(str(int(part)) for part in area))

    @property
    def recent_cases(self) -> tuple[str, ...]:
        """Paths of the cases opened lately, the newest first."""
        return tuple(path for path in str(self._store.value("last/recent", "")).split("\n") if path)

    def add_recent_case(self, path: str, title: str = "") -> None:
        """Puts a case first among them, with its title."""
        kept = (path, *(before for before in self.recent_cases if before != path))[:MOST_RECENT]
        if kept != self.recent_cases:
            self._store.setValue("last/recent", "\n".join(kept))
        if title != self.recent_title(path):
            titles = {_key(own): self.recent_title(own) for own in kept} | {_key(path): title}
            self._store.remove("titles")
            for key, words in titles.items():
                self._store.setValue(f"titles/{key}", words)

    def recent_title(self, path: str) -> str:
        """The title that a recent case had; empty where it has none."""
        return str(self._store.value(f"titles/{_key(path)}", ""))

    @property
    def cautions_seen(self) -> bool:
        """Were the cautions shown once?"""
        return str(self._store.value("cautions_seen", "no")) == "yes"

    @cautions_seen.setter
    def cautions_seen(self, seen: bool) -> None:
        self._store.setValue("cautions_seen", "yes" if seen else "no")

    def save(self) -> None:
        """Writes what was set to disk now."""
        self._store.sync()


def _key(path: str) -> str:
    """A path as the name of a group, which may hold no slash."""
    return sha256(path.encode("utf-8", "surrogateescape")).hexdigest()[:16]


def _folder() -> str:
    try:
        return str(own_folder("config"))
    except OSError:
        # nothing can be kept there, and nothing is
        return os.path.join(os.devnull, "twinslot")
