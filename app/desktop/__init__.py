"""The program's icon, and what puts it into a desktop's menu; drawn and written for this program."""

from __future__ import annotations

from pathlib import Path

ICON = Path(__file__).with_name("twinslot.svg")
