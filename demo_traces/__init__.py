"""Three invented cases to try the program on: captures of a good and a faulty Linnet, a machine that never was.

The files are made by ``python -m demo_traces.make_demo``; each folder's README.md tells what was planted.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from types import MappingProxyType
from typing import Literal


@dataclass(frozen=True, slots=True)
class DemoCase:
    """One case. ``good`` and ``suspect`` are files, the shown pair first; ``family`` serves channels for which the
    sheet names none. ``planted_cycle`` is in the numbering of the first good capture."""

    name: str
    title: str
    folder: Path
    good: tuple[Path, ...]
    suspect: tuple[Path, ...]
    sheet: Path
    clock: str
    edge: Literal["rising", "falling"]
    family: str
    planted_signal: str
    planted_mode: str
    planted_cycle: int
    story: str


def _case(
    name: str, title: str, more: int, signal: str, mode: str, cycle: int, story: str, *, family: str = "74"
) -> DemoCase:
    """``more`` captures of each side besides the shown pair."""
    folder = Path(__file__).parent / name
    good, suspect = (
        tuple(folder / f"{side}{'' if i == 0 else f'_{i + 1}'}.csv" for i in range(more + 1))
        for side in ("good", "suspect")
    )
    return DemoCase(
        name,
        title,
        folder,
        good,
        suspect,
        folder / "sheet.csv",
        "MCLK",
        "rising",
        family,
        signal,
        mode,
        cycle,
        story,
    )


CASES: Mapping[str, DemoCase] = MappingProxyType(
    {
        case.name: case
        for case in (
            _case(
                "receiver",
                "Slot 7 no longer hears D03",
                1,
                "D03",
                "stuck low",
                1004,
                "The south crate of the Linnet computes nonsense once it is warm. "
                "Both crates were captured at slot 7, the operand board, from the same start of the same program. "
                "From one cycle on D03 stays low at its pin, although the driver in slot 6 goes on sending it.",
            ),
            _case(
                "contact",
                "A dirty contact on D02",
                0,
                "D02",
                "weak low",
                209,
                "The south crate of the Linnet drops a bit when somebody walks past. "
                "A scope was put on four pins of slot 7 in both crates, and the logic looks alike. "
                "In volts the lows of D02 stand at about 1.1 V now and then, as behind a dirty contact.",
                family="74LS",
            ),
            _case(
                "handshake",
                "An acknowledge that dawdles",
                0,
                "ACK",
                "late",
                52,
                "The south crate of the Linnet stops with a bus fault about once an hour. "
                "Eight signals at slot 7 were captured in both crates, and in every cycle all states agree. "
                "About once in forty times ACK comes some 170 ns later than in the north crate.",
            ),
        )
    }
)
"""By name, in the order in which they are shown."""
