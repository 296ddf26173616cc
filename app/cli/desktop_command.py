"""``twinslot desktop``: the program in the menu of a desktop, and its cases opened by a double click.

Files and folders are those of the freedesktop.org Desktop Entry, Icon Theme and Shared MIME-info specifications.
"""

from __future__ import annotations

import argparse
import os
import shutil
import subprocess
import sys
from pathlib import Path

from tracecore.errors import RequestError

PLACES = {
    "twinslot.desktop": "applications",
    "twinslot.svg": "icons/hicolor/scalable/apps",
    "twinslot.xml": "mime/packages",
}


def add_desktop(parser: argparse.ArgumentParser) -> None:
    """What can be typed after ``desktop``."""
    parser.description = (
        "Puts the program into the menu of a Linux desktop, for the person who types this. "
        "A double click on a case then opens it."
    )
    parser.add_argument("--remove", action="store_true", help="take it out again")


def desktop(arguments: argparse.Namespace) -> int:
    """Writes the entry, icon and kind of file into the person's own data folder, or takes them out."""
    from app.cli.terminal import say
    from app.desktop import ICON

    if not sys.platform.startswith("linux"):
        raise RequestError("Entries of this kind are for Linux desktops. Start the program by its command.")
    share = Path(os.environ.get("XDG_DATA_HOME") or Path.home() / ".local/share")
    for name, folder in PLACES.items():
        target = share / folder / name
        if arguments.remove:
            target.unlink(missing_ok=True)
            continue
        text = ICON.with_name(name).read_text("utf-8")
        target.parent.mkdir(parents=True, exist_ok=True)
        target.write_text(text.replace("Exec=twinslot ", f"Exec={_command()} "), "utf-8")
    _tell_desktop(share)
    say(f"{'Taken out of' if arguments.remove else 'Written to'} {share}: {', '.join(PLACES)}")
    return 0


def _command() -> str:
    """How this very program is started, quoted as the Desktop Entry Specification (1.5, "The Exec key") has it."""
    command = Path(sys.executable).with_name("twinslot")
    words = [str(command)] if command.exists() else [sys.executable, "-P", "-m", "app"]
    return " ".join(_quoted(word) for word in words)


def _quoted(word: str) -> str:
    """
    >>> _quoted("/opt/our tools/twinslot")
    '"/opt/our tools/twinslot"'
    """
    if word.replace("/", "").replace("-", "").replace("_", "").replace(".", "").isalnum():
        return word
    # a backslash is one of the entry's own escapes too, and a percent sign begins a field
    for plain, escaped in (("\\", "\\\\\\\\"), ('"', '\\\\"'), ("`", "\\\\`"), ("$", "\\\\$"), ("%", "%%")):
        word = word.replace(plain, escaped)
    return f'"{word}"'


def _tell_desktop(share: Path) -> None:
    """Lets the desktop look again, where its tools are there; without them it does so by itself, later."""
    for tool, folder in (("update-desktop-database", "applications"), ("update-mime-database", "mime")):
        if shutil.which(tool) and (share / folder).is_dir():
            subprocess.run([tool, str(share / folder)], capture_output=True, check=False)
