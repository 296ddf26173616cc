"""Colours of printed pages, each named by what it stands for. The window's themes are made from them."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

Colour = Literal[
    "ink",
    "muted",
    "suspect",
    "suspect_text",
    "warning",
    "warning_text",
    "rule",
    "rule_strong",
    "paper",
    "panel",
    "tint",
]


@dataclass(frozen=True, slots=True)
class Palette:
    """Colours as ``#RRGGBB``. ``..._text`` are for words, the plain names for lines and marks."""

    ink: str
    muted: str
    suspect: str
    suspect_text: str
    warning: str
    warning_text: str
    rule: str
    rule_strong: str
    paper: str
    panel: str
    tint: str


PAD = Palette(
    ink="#1B2830",
    muted="#55636A",
    suspect="#B24F00",
    suspect_text="#A54900",
    warning="#8C6A00",
    warning_text="#6B5200",
    rule="#DCE3D7",
    rule_strong="#B9C4B4",
    paper="#F4F6F1",
    panel="#FFFFFF",
    tint="#E6ECE2",
)
"""Engineer's pad paper: the known-good side in ink, the suspect in vermilion, warnings in ochre."""

DARK = Palette(
    ink="#E6E1D3",
    muted="#BDB6A7",
    suspect="#D97C3E",
    suspect_text="#EC9557",
    warning="#AE8C35",
    warning_text="#D9B65C",
    rule="#45403A",
    rule_strong="#6B6459",
    paper="#2B2823",
    panel="#332F29",
    tint="#403B33",
)
"""The same for a dark screen."""

BLACK = Palette(*["#000000"] * 8, *["#FFFFFF"] * 3)
"""Black on white without a grey, for a sheet whose sides differ by weight and letter."""
