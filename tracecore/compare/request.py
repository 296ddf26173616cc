"""What a comparison is asked for, and how it tells of its progress."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field

from tracecore.capture import Capture
from tracecore.circuit.pin_list import PinList
from tracecore.circuit.probe_sheet import ProbeSheet
from tracecore.circuit.wire_list import WireList
from tracecore.settings import CompareSettings

Progress = Callable[[float, str], None]
"""Called with a share (0 to 1) and what is being done; may raise ``Stopped`` to stop the work."""


class Stopped(Exception):
    """Raised by a progress callback when the person asked to stop."""


@dataclass(frozen=True, slots=True, eq=False)
class CompareRequest(CompareSettings):
    """What to compare, and how. The first capture of each side is the pair that is shown; the others count in
    "seen in"."""

    good: tuple[Capture, ...]
    suspect: tuple[Capture, ...]
    sheet: ProbeSheet = field(default_factory=ProbeSheet)
    wire_list: WireList | None = None
    """Which nets feed which part, in signal names; it orders the likely causes."""
    pins: PinList | None = None
    """Which leg of which chip is on which net; a chip that does not obey its inputs is told among the likely causes."""
    own_sheets: tuple[str, str] = ("", "")
    """Paths of the probe sheets that each side has of its own; its captures have these names already."""
    same_names: tuple[tuple[str, str], ...] = ()
    """Names that a person took for one signal: the suspect's own, and the known-good name that it has by now."""
