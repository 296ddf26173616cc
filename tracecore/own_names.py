"""Names that the program itself gives to channels and layouts. Without numpy, as the first window needs them."""

from __future__ import annotations

from collections.abc import Iterable

CYCLE_ROWS, EACH_ROW = "cycle rows", "EACH_ROW"
"""The layout of rows that the board's own clock took, and the signal that counts them."""
_VOLTS = " (volts)"


def file_channels(channels: Iterable[str], layout: str) -> tuple[str, ...]:
    """The channels that a file of this layout holds: those of a capture without the one that counts its rows.

    >>> file_channels(("EACH_ROW", "A"), "cycle rows"), file_channels(("EACH_ROW", "A"), "sampled rows")
    (('A',), ('EACH_ROW', 'A'))
    """
    return tuple(name for name in channels if name != EACH_ROW or layout != CYCLE_ROWS)


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
