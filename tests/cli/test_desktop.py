"""The entry for a desktop's menu, by the rules of the freedesktop.org Desktop Entry Specification 1.5."""

from __future__ import annotations

import configparser
import shlex
import sys
import xml.etree.ElementTree as ET

import pytest

from app.__main__ import main
from app.cli.desktop_command import PLACES, _quoted

pytestmark = pytest.mark.skipif(not sys.platform.startswith("linux"), reason="entries are for Linux desktops")


@pytest.fixture
def share(tmp_path, monkeypatch):
    monkeypatch.setenv("XDG_DATA_HOME", str(tmp_path / "share"))
    return tmp_path / "share"


def test_the_entry_names_this_very_program(share):
    assert main(["desktop"]) == 0
    entry = configparser.RawConfigParser(strict=True)
    entry.optionxform = str
    entry.read(share / "applications" / "twinslot.desktop", "utf-8")
    (group,) = entry.sections()
    found = dict(entry[group])
    # "Recognized desktop entry keys": Type and Name are required, Exec for an application
    assert (group, found["Type"], found["Name"]) == ("Desktop Entry", "Application", "Twinslot")
    program, *rest = shlex.split(found["Exec"])
    assert program.startswith(str(sys.prefix))
    assert rest[-2:] == ["open", "%f"]
    # lists end with a semicolon ("Value types"); one main category of the Desktop Menu Specification
    assert all(found[name].endswith(";") for name in ("Categories", "Keywords", "MimeType"))
    assert "Development" in found["Categories"].split(";")
    kind = ET.parse(share / "mime/packages/twinslot.xml").getroot()[0]
    assert kind.get("type") + ";" == found["MimeType"]
    assert (share / "icons/hicolor/scalable/apps" / f"{found['Icon']}.svg").is_file()


def test_it_is_taken_out_again(share):
    main(["desktop"])
    assert main(["desktop", "--remove"]) == 0
    assert not [name for name, folder in PLACES.items() if (share / folder / name).exists()]


def test_odd_folders_are_quoted_by_the_rules():
    # "The Exec key": quoted as a whole; a dollar sign is written \\\\$ in the file, a percent sign twice
    assert _quoted("/opt/a b/$x") == '"/opt/a b/\\\\$x"'
    assert _quoted("/opt/50%/t") == '"/opt/50%%/t"'
    assert _quoted("/usr/bin/twinslot") == "/usr/bin/twinslot"


def test_the_icon_is_drawn_by_the_library_of_the_window(qapp):
    from PySide6.QtGui import QIcon

    from app.desktop import ICON

    picture = QIcon(str(ICON)).pixmap(64, 64).toImage()
    colours = {picture.pixelColor(x, y).name() for x in range(64) for y in range(64)}
    assert {"#f4f6f1", "#1b2830", "#b24f00"} <= colours
