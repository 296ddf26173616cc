"""A run of a design, sound or with one fault, as the simulator dumps it: every transition of every net that is seen."""

from __future__ import annotations

import random
import subprocess
from dataclasses import dataclass
from pathlib import Path

from tests.benchmarks.public_design.design import Design, Net
from tracecore.capture import Capture
from tracecore.readers import read_capture

RESET_CYCLES, CYCLES = 60, 1100
KINDS = (
    "stuck low",
    "stuck high",
    "inverted",
    "bridged and",
    "bridged or",
    "swapped",
    "late",
    "one cycle late",
    "intermittent",
    "weak",
    "stuck later",
)
WHOLE_BOARD = ("sound", "held in reset", "clock stops")
"""What is wrong with no net: nothing, the reset, the clock."""
WAITS = "other waits"
"""A sound board that has to wait for other times than the good one."""


@dataclass(frozen=True, slots=True)
class Fault:
    """``kind`` on a bit of ``net``, joined to one of ``other`` where it needs two; no nets for a whole board."""

    kind: str
    seed: int
    net: tuple[Net, int] | None = None
    other: tuple[Net, int] | None = None

    @property
    def cut(self) -> tuple[tuple[Net, int], ...]:
        """Where nets are cut for it: at both that are joined, else at its own."""
        both = (self.net, self.other) if self.kind in ("bridged and", "bridged or", "swapped") else (self.net,)
        return tuple(place for place in both if place)


def draw_fault(design: Design, kind: str, rng: random.Random, seed: int) -> Fault:
    """A fault on a net drawn from all bits of all nets, and another net of it that may be joined to it."""
    places = [(net, bit) for net in design.nets for bit in range(net.width)]
    net, other = rng.sample(places, 2)
    return Fault(kind, seed, net, other)


def test_bench(design: Design, fault: Fault) -> str:
    """Verilog of our own: clock, reset, the board, the fault's levels, and the nets that are seen."""
    stops = RESET_CYCLES + (CYCLES // 3 if fault.kind == "clock stops" else 2 * CYCLES)
    released = RESET_CYCLES + (2 * CYCLES if fault.kind == "held in reset" else 0)
    return "\n".join(
        [
            "`timescale 1ns/1ps",
            "module seen(input CLK);",
            *(f"  wire {clip} = bench.{path.removeprefix('bench.')};" for clip, path in design.seen.items()),
            "endmodule",
            "module bench;",
            f"  reg clk = 0; reg reset = 1; integer n = 0; integer power_up = {fault.seed + 1};",
            f"  reg varying = {int(fault.kind == WAITS)};",
            "  initial #1 reset = 0;",
            f"  always #{design.half_ns} if (n < {stops}) clk = ~clk;",
            f"  initial #{2 * design.half_ns * (RESET_CYCLES + CYCLES)} $finish;",
            f"  always @(posedge clk) begin n = n + 1; if (n == {released}) reset <= #3 1; end",
            design.board,
            *(_levels(design, fault) if fault.net else ()),
            "  seen probe(clk);",
            '  initial begin $dumpfile("seen.vcd"); $dumpvars(1, probe); end',
            "endmodule",
            "",
        ]
    )


def _levels(design: Design, fault: Fault) -> list[str]:
    """What drives the faulty net, ``level0``, and the one that is joined to it, ``level1``.

    They are made from what the parts drive, ``own`` and ``other``, behind which the nets are cut. 2 ns keep a bridge
    that feeds itself from turning in no time.
    """
    draws = 6 if fault.kind == "weak" else 3
    starts = "1'b1" if fault.kind == "weak" else "$urandom(draw) % 40 == 0 || flaky"
    level = {
        "stuck low": "1'b0",
        "stuck later": "1'b0",
        "stuck high": "1'b1",
        "inverted": "~own",
        "bridged and": "own & other",
        "bridged or": "own | other",
        "swapped": "other",
        "late": "tardy",
        "one cycle late": "kept",
        "intermittent": "own ^ flaky",
        "weak": "own & ~flaky",
    }[fault.kind]
    at = (RESET_CYCLES + 50 + fault.seed % 300) * 2 * design.half_ns if fault.kind == "stuck later" else 1
    own, other = (_driven(place, cut=_is_cut(fault, place)) for place in (fault.net, fault.other))
    return [
        f"  integer draw = {fault.seed + 1}; reg flaky = 0, kept = 0, armed = 0; initial #{at} armed = 1;",
        f"  wire own, other, tardy; assign own = {own}; assign other = {other};",
        f"  assign #({design.half_ns // 2}) tardy = own;",
        f"  always @(posedge clk) begin kept <= own; if ({starts}) flaky <= ($urandom(draw) % {draws} == 0); end",
        f"  wire #2 level0 = armed ? ({level}) : own;",
        f"  wire #2 level1 = armed ? ({'own' if fault.kind == 'swapped' else level}) : other;",
    ]


def _is_cut(fault: Fault, place: tuple[Net, int] | None) -> bool:
    """Whether a part's output is parted from its net, which happens to all bits of a name."""
    return place is not None and place[0] in [net for net, _ in fault.cut]


def _driven(place: tuple[Net, int] | None, cut: bool) -> str:
    """What a part drives: the net itself where it is not cut."""
    assert place is not None
    net, bit = place
    return f"{net.path}.{net.driven(bit) if cut else net.bit(bit)}".removeprefix("bench.")


def simulate(design: Design, folder: Path, fault: Fault) -> Capture:
    """One run of the design that lies in ``folder``, whose files are left as they are."""
    texts = {"bench.v": test_bench(design, fault)}
    levels: dict[Net, dict[int, str]] = {}
    for i, (net, bit) in enumerate(fault.cut):
        levels.setdefault(net, {})[bit] = f"bench.level{i}"
    for net, of_bits in levels.items():
        text = texts[net.file] if net.file in texts else (folder / net.file).read_text()
        texts[net.file] = net.cut_in(text, of_bits)
    files = [f"cut_{name}" if name in texts else name for name in ("bench.v", *design.sources)]
    for name, text in texts.items():
        (folder / f"cut_{name}").write_text(text)
    build = ["iverilog", "-g2012", "-o", "bench.out", "-s", "bench", *files]
    subprocess.run(build, cwd=folder, check=True, capture_output=True)
    subprocess.run(["vvp", "bench.out"], cwd=folder, check=True, capture_output=True)
    return read_capture(folder / "seen.vcd")
