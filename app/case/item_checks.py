"""What must hold of a case's items beyond their types, so that a file from anybody makes no page or report fail."""

from __future__ import annotations

import re
from collections.abc import Callable
from typing import Any

from app.case.read_settings import read_settings_of
from app.case.values import (
    MOST_PINS,
    MOST_ROWS,
    MOST_SLOTS,
    BenchCard,
    CrateShape,
    Entry,
    HeldCapture,
    Mark,
    Picture,
    Proof,
)
from tracecore.circuit.pin_list import PinList
from tracecore.circuit.wire_list import WireList
from tracecore.settings import HIGHEST_SUPPLY_V, CompareSettings

_SHA256 = re.compile(r"[0-9a-f]{64}")
_ROW = re.compile(r"[A-Z]{1,2}")
LARGEST_PICTURE = 20_000
"""Pixels along a side; stored pictures are much smaller."""


def check_item(key: tuple[str, str], value: Any) -> None:
    """Raises ValueError where a value cannot stand under its key, or says what cannot be."""
    number = getattr(value, "id", None)
    if number is not None:
        _must(key[1] == str(number) and number > 0, f"its number is {number} and it stands under {key[1]!r}")
    check = _CHECKS.get(type(value))
    if check is not None:
        check(value)
    if isinstance(value, HeldCapture):
        _must(value.key == key[1], f"its key is {value.key!r} and it stands under {key[1]!r}")


def _must(holds: bool, otherwise: str) -> None:
    if not holds:
        raise ValueError(otherwise)


def _held(held: HeldCapture) -> None:
    _must(held.sha256 == "" or _SHA256.fullmatch(held.sha256) is not None, "sha256 is no SHA-256")
    _must(held.size_bytes >= 0, "size_bytes is below zero")
    _must(held.resolution_ps > 0, "resolution_ps is not above zero")
    _must(held.stop_ps >= held.start_ps, "it stops before it starts")
    _must("\0" not in held.path, "its path holds a zero byte")
    _must((held.scope is None) == (not held.through), "it is joined with a scope through nothing, or with none")
    if held.scope is not None:
        _must(len(held.through) == 2, "it is joined through other than two channels")
        _must(held.scope.scope is None, "its scope capture is a joined one itself")
        _held(held.scope)
    _must(bool(held.parts) == bool(held.parts_by), "it is joined with further files by nothing, or with none")
    _must(len({part.key for part in held.parts} | {held.key}) == 1 + len(held.parts), "a file is joined with itself")
    for part in held.parts:
        _must(part.scope is None and not part.parts, "a file that it is joined with is a joined one itself")
        _held(part)
    _must(len({new for _, new in held.called}) == len(held.called), "two channels are called the same")
    _must(all(set(row) <= set("0123456789") for row in held.shades), "shades are no digits")
    _must(len({len(row) for row in held.shades}) <= 1, "rows of shades differ in length")
    read_settings_of(held)


def _mark(mark: Mark) -> None:
    _must(mark.last_cycle >= mark.first_cycle, "it ends before it begins")


def _entry(entry: Entry) -> None:
    _must(entry.corrects is None or 0 < entry.corrects < entry.id, "it corrects an entry that does not come before it")
    if entry.proof is not None:
        _proof(entry.proof)


def _proof(proof: Proof) -> None:
    _must(0 <= proof.diverging <= proof.captures and proof.captures > 0, "more captures diverge than there are")
    _must(proof.uncounted >= 0, "fewer than no captures")


def _picture(picture: Picture) -> None:
    sides = (picture.width, picture.height)
    _must(all(0 < side <= LARGEST_PICTURE for side in sides), f"a picture of {sides[0]} x {sides[1]}")
    _must(_SHA256.fullmatch(picture.stored) is not None, "stored is no SHA-256")


def _card(card: BenchCard) -> None:
    boxes = [len(row.boxes) for row in card.rows]
    fits = all(len(row) <= room for row, room in zip(card.filled, boxes, strict=False))
    _must(len(card.filled) <= len(boxes) and fits, "more boxes are filled than there are")


def _crate(crate: CrateShape) -> None:
    _must(0 < crate.slots <= MOST_SLOTS, f"a crate of {crate.slots} slots")
    _must(0 < crate.pins <= MOST_PINS, f"a row of {crate.pins} pins")
    _must(0 < len(crate.rows) <= MOST_ROWS and len(set(crate.rows)) == len(crate.rows), "its rows are none, or doubled")
    _must(all(_ROW.fullmatch(row) for row in crate.rows), "a row is no letter")
    _must(len(crate.names) <= crate.slots, "more slots are named than there are")


def _settings(settings: CompareSettings) -> None:
    tolerance = settings.tolerance_ps
    _must(tolerance is None or tolerance >= 0, "the tolerance is below zero")
    _must(0 < settings.supply_v <= HIGHEST_SUPPLY_V, f"a supply of {settings.supply_v:g} V")
    _must(settings.bandwidth_hz is None or settings.bandwidth_hz > 0, "a bandwidth that is not above zero")


def _wires(wires: WireList) -> None:
    for row in wires.rows:
        _must(bool(row.output and row.inputs), f"{row.part or 'a part'} has no output, or no input")
        _must(len(set(row.inputs)) == len(row.inputs), f"{row.part or 'a part'} has an input twice")


def _pins(pins: PinList) -> None:
    for row in pins.rows:
        _must(bool(row.net), "a row without a net")
        # raises ValueError where either is no pin
        _must(bool(row.points), f"{row.net} has a row without a pin")


_CHECKS: dict[type, Callable[[Any], None]] = {
    CompareSettings: _settings, HeldCapture: _held, Mark: _mark, Entry: _entry, Picture: _picture, BenchCard: _card,
    CrateShape: _crate, WireList: _wires, PinList: _pins,
}  # fmt: skip
