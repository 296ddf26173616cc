"""Captures that land in a watched folder, under the names that the case has for that side's channels."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from app.case.record import SideState
    from tracecore.capture import Capture


def naming(side: SideState, wanted: Sequence[str]) -> Callable[[Capture], Capture]:
    """What gives a capture the names of its side in the case; ``wanted`` are those of the other side, which a channel
    may answer to by its short name.
    """
    from tracecore.sides.names import answering, renamed, sheet_names

    signals = {} if side.sheet is None else {probe.channel: probe.signal for probe in side.sheet.probes}
    same = dict(side.same)

    def named(capture: Capture) -> Capture:
        capture = renamed(capture, sheet_names(capture.channels, signals))
        return renamed(answering(capture, wanted), same)

    return named
