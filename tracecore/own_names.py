"""Names that the program itself gives to channels and layouts. Without numpy, as the first window needs them."""

from __future__ import annotations

CYCLE_ROWS, EACH_ROW = "cycle rows", "EACH_ROW"
"""The layout of rows that the board's own clock took, and the signal that counts them."""
_VOLTS = " (volts)"


def volts_beside(name: str) -> str:
    """What a channel's volts are called where its logic was captured too.

    >>> volts_beside("D03")
    'D03 (volts)'
    """
    return f"{name}{_VOLTS}"


def logic_beside(name: str) -> str:
    """The channel whose volts have this name; empty where it is no such name.

    >>> logic_beside("D03 (volts)"), logic_beside("D03")
    ('D03', '')
    """
    return name.removesuffix(_VOLTS) if name.endswith(_VOLTS) else ""
