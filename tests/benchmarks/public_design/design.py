"""What the benchmark has to know of a design."""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path


@dataclass(frozen=True, slots=True)
class Net:
    """A net, or several of one name, that can be cut behind what drives it.

    ``driver`` is the text in ``file`` at which the part drives ``name``; it occurs there once. ``path`` is the module
    that the file describes, in a running simulation.
    """

    file: str
    path: str
    name: str
    driver: str
    width: int = 1

    def bit(self, bit: int) -> str:
        """One of its nets as Verilog writes it."""
        return f"{self.name}[{bit}]" if self.width > 1 else self.name

    def clip(self, bit: int) -> str:
        """What a clip on one of its nets is called; two modules may have a net of one name."""
        place = self.path.rpartition(".")[2]
        return f"{place}_{self.name}" + (f"_{bit}" if self.width > 1 else "")

    def cut_in(self, text: str, levels: dict[int, str]) -> str:
        """The file's text with the net cut: what drives it drives ``NAME_cut``, and ``levels`` drive some of its bits.

        Raises ``ValueError`` where the driver is not found once.
        """
        if text.count(self.driver) != 1:
            raise ValueError(f"{self.file}: {self.driver!r} is found {text.count(self.driver)} times, expected once")
        at = text.index(self.driver)
        header = text.index(";", text.rindex("module ", 0, at)) + 1
        end = text.index("endmodule", at)
        behind = f"{self.name}_cut"
        driver = re.sub(rf"\b{self.name}\b", behind, self.driver)
        return "".join(
            [
                text[:header],
                f"\n  wire {f'[{self.width - 1}:0] ' if self.width > 1 else ''}{behind};",
                text[header:at],
                driver,
                text[at + len(self.driver) : end],
                *(f"  assign {self.bit(b)} = {levels.get(b, self.driven(b))};\n" for b in range(self.width)),
                text[end:],
            ]
        )

    def driven(self, bit: int) -> str:
        """What the part drives of one of its nets, once it is cut."""
        return f"{self.name}_cut[{bit}]" if self.width > 1 else f"{self.name}_cut"


@dataclass(frozen=True, slots=True)
class Design:
    """A public design and what is asked of it.

    ``board`` is Verilog inside of our test bench, which has ``clk``, ``reset`` (low while the board is held) and
    ``power_up`` (a number of each run's own, for what memories hold). Clips sit on all ``nets`` and on ``buses``, which
    gives the path in the simulation of each. ``prepare(fetched, folder, program)`` fills ``folder`` with all the files.
    A board that ``waits`` does so for other times where ``varying`` is set.
    """

    name: str
    half_ns: int
    sources: tuple[str, ...]
    board: str
    nets: tuple[Net, ...]
    buses: dict[str, str]
    programs: tuple[str, ...]
    prepare: Callable[[Path, Path, str], None]
    waits: bool = False

    @property
    def cycle_ps(self) -> int:
        """A cycle of the clock."""
        return 2 * self.half_ns * 1000

    @property
    def seen(self) -> dict[str, str]:
        """The path of every net that has a clip, by the clip's name."""
        return {
            net.clip(bit): f"{net.path}.{net.bit(bit)}" for net in self.nets for bit in range(net.width)
        } | self.buses


def bits(name: str, path: str, width: int) -> dict[str, str]:
    """A clip on every net of a bus."""
    return {f"{name}_{i}": f"{path}[{i}]" for i in range(width)}
