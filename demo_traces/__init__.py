"""Ten invented cases to try the program on: captures of a good and a faulty Linnet, a machine that never was.

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
    sheet names none. ``planted_cycle`` is in the numbering of the first good capture;
    ``planted_in`` names the only suspect capture that holds the fault, where the shown one does not."""

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
    planted_in: str = ""

    @property
    def listed(self) -> str:
        """Its title with the short name that the command line takes."""
        return f"{self.title} ({self.name})"

    @property
    def pins(self) -> Path | None:
        """The pin list of the case, where it has one."""
        path = self.folder / "pins.csv"
        return path if path.exists() else None

    @property
    def readings(self) -> Path | None:
        """The ohm readings of the case, where it has any."""
        path = self.folder / "readings.csv"
        return path if path.exists() else None


def _case(
    name: str,
    title: str,
    counts: tuple[int, int],
    signal: str,
    mode: str,
    cycle: int,
    story: str,
    *,
    family: str = "74",
    planted_in: str = "",
) -> DemoCase:
    """``counts`` of the good and of the suspect captures; many suspect ones lie in a folder of their own."""
    folder = Path(__file__).parent / name
    good, suspect = (
        tuple(folder / f"{side}{'' if i == 0 else f'_{i + 1}'}.csv.gz" for i in range(count))
        for side, count in zip(("good", "suspect"), counts, strict=True)
    )
    if counts[1] > 2:
        suspect = tuple(folder / "starts" / f"start_{i:02d}.csv.gz" for i in range(1, counts[1] + 1))
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
        planted_in,
    )


HELD_CYCLE = 881
CLIP_SIGNAL, CLIP_MODE, CLIP_CYCLE = "SEL1", "stuck high", 307

CASES: Mapping[str, DemoCase] = MappingProxyType(
    {
        case.name: case
        for case in (
            _case(
                "receiver",
                "Nonsense once it is warm",
                (2, 2),
                "D03",
                "stuck low",
                1004,
                "The south crate of the Linnet computes nonsense once it is warm. "
                "Both crates were captured at slot 7, the operand board, from the same start of the same program. "
                "From one cycle on D03 stays low at its pin, although the driver in slot 6 goes on sending it.",
            ),
            _case(
                "contact",
                "Drops a bit when somebody walks past",
                (1, 1),
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
                "A bus fault about once an hour",
                (1, 1),
                "ACK",
                "late",
                52,
                "The south crate of the Linnet stops with a bus fault about once an hour. "
                "Eight signals at slot 7 were captured in both crates, and in every cycle all states agree. "
                "About once in forty times ACK comes some 170 ns later than in the north crate.",
            ),
            _case(
                "waits",
                "Nonsense half a millisecond after the start",
                (1, 1),
                "D01",
                "stuck high",
                1324,
                "The south crate of the Linnet computes nonsense some half a millisecond after the start. "
                "Its store is slower, so that it waits one to three cycles more now and then, which is no fault. "
                "Besides that, from one cycle on, slot 7 takes D01 for high, although slot 6 goes on sending it.",
            ),
            _case(
                "once",
                "Fails its self-test at one start in forty",
                (3, 40),
                "D00",
                "stuck high",
                204,
                "The south crate of the Linnet fails a self-test about once in forty starts. "
                "Slot 7 was captured at three starts of the north crate and at forty of the south crate. "
                "In thirty-nine of the forty nothing differs; in one D00 is high from one cycle on.",
                planted_in="start_27.csv.gz",
            ),
            _case(
                "open",
                "Takes odd words for even ones",
                (1, 1),
                "D01",
                "steady mid-level",
                231,
                "The south crate of the Linnet takes every odd word for an even one, or the other way round. "
                "A scope was put on four pins of slot 7 in both crates. "
                "From one cycle on D01 rests near 1.4 V in the south crate, as an input does that nothing drives.",
            ),
            _case(
                "pullup",
                "Fails in the cold of the morning",
                (1, 1),
                "WAIT",
                "slow rise",
                11,
                "The south crate of the Linnet runs by day and fails in the cold of the morning. "
                "A scope was put on four pins of slot 7 in both crates, and every bit is right. "
                "WAIT, an open-collector line, falls as it should and rises five times as slowly as in the north.",
            ),
            _case(
                "setup",
                "Loses an acknowledge now and then",
                (1, 1),
                "ACK",
                "late",
                1734,
                "The south crate of the Linnet loses an acknowledge about once in a thousand cycles. "
                "Six signals at slot 7 were captured in both crates to the nanosecond. "
                "Now and then ACK falls so late that the 7474 behind it has less time before its clock than it needs.",
            ),
            _case(
                "held",
                "Adds wrongly from one place of its self-test on",
                (1, 1),
                "D01",
                "stuck low",
                HELD_CYCLE,
                "The south crate of the Linnet adds wrongly from the same place of its self-test on. "
                "D01 is low at slot 7 from one cycle on, and the wire from slot 6 reads as in the north crate. "
                "Three ohm readings tell wire, backplane and slot apart.",
            ),
            _case(
                "clip",
                "Selects the wrong device at some addresses",
                (1, 1),
                CLIP_SIGNAL,
                CLIP_MODE,
                CLIP_CYCLE,
                "The south crate of the Linnet selects the wrong device for some addresses. "
                "A test clip was put on U14, a 74LS138 of the operand board in slot 7, in both crates. "
                "The levels at its inputs are alike, and those at its outputs are not.",
                family="74LS",
            ),
        )
    }
)
"""By name, in the order in which they are shown."""
