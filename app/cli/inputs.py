"""Captures, sheets and wire lists that a command names, read; and the comparison of what they hold."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from fractions import Fraction

    from tracecore.capture import Capture
    from tracecore.circuit.probe_sheet import ProbeSheet
    from tracecore.circuit.wire_list import WireList
    from tracecore.comparison import CompareRequest, Comparison


def read_sheet(path: str | None) -> ProbeSheet:
    """The probe sheet, or an empty one."""
    from tracecore.circuit.probe_sheet import ProbeSheet, read_probe_sheet

    return read_probe_sheet(path) if path else ProbeSheet()


def read_wires(path: str | None) -> WireList | None:
    """The wire list, or None."""
    from tracecore.circuit.wire_list import read_wire_list

    return read_wire_list(path) if path else None


def read_captures(
    paths: list[str], rate: Fraction | None, base: str | None = None, columns: Sequence[tuple[str, str]] = ()
) -> tuple[Capture, ...]:
    """Each file as a capture, with progress on a terminal."""
    from app.cli.terminal import progress
    from tracecore.readers import read_capture
    from tracecore.readers.by_hand.column_choice import parse_choice

    chosen = {name: parse_choice(text) for name, text in columns}
    with progress() as tell:
        return tuple(
            read_capture(path, sample_rate=rate, word_base=base, columns=chosen, progress=tell) for path in paths
        )


def compared(request: CompareRequest) -> Comparison:
    """The comparison, with progress on a terminal."""
    from app.cli.terminal import progress
    from tracecore.comparison import compare

    with progress() as tell:
        return compare(request, tell)
