"""The line-up and the outcome on a public computer of discrete TTL, simulated in Verilog by somebody else's parts.

    git clone https://github.com/DoctorWkt/CSCvon8 /tmp/design
    .venv/bin/python -m tests.benchmarks.bench_public_design /tmp/design [--faults 20] [--first 1]

The design (an 8-bit computer of 17 packages, GPL 3) is not part of this project: it is fetched by whoever runs this,
and nothing of it is kept. iverilog, vvp and perl must be there (Debian: iverilog, perl).
Its own scripts make its ROMs and assemble one of its example programs;
the test bench that is written here resets it, forces one fault on one of its
nets and dumps the nets that clips would sit on. A good and a suspect run are then sampled by two clocks of their own at
11 to 23 samples a cycle, from moments of their own within the reset, and compared. Told are the offset (right, refused,
wrong), how sure it was said to be, and the outcome; how many are right where the fault shows within 16 cycles of the
reset. Besides faults on nets each program runs sound on both sides, held in reset, and with a clock that stops.

Odd numbers of faults are for reporting, even ones for trying rules.
"""

from __future__ import annotations

import argparse
import random
import shutil
import subprocess
import tempfile
from collections import Counter
from dataclasses import dataclass
from fractions import Fraction
from pathlib import Path

import numpy as np

from tracecore.capture import Capture, digital_trace, sample_time_ps
from tracecore.comparison import CompareRequest, compare
from tracecore.readers import read_capture

PROGRAMS = ("example03", "example05", "example07", "example08", "example09", "triangle")
HALF_NS = 230
CYCLE_PS = 2 * HALF_NS * 1000
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


def _nets() -> dict[str, str]:
    """The nets that may be faulty: the name of each in the design, and what drives it there."""
    nets = {}
    for register, wire in (("A", "Aval"), ("B", "Bval"), ("IR", "IRval")):
        nets |= {f"{wire}[{i}]": f"DUT.{register}.Q_current[{i}]" for i in range(8)}
    nets |= {f"uSval[{i}]": f"DUT.uSeq.Q_current[{i}]" for i in range(4)}
    nets |= {f"controlbus[{i}]": f"DUT.Decoder.Mem[DUT.Decodeindex][{i}]" for i in range(16)}
    return nets


WHOLE_BOARD = ("sound", "held in reset", "clock stops")
"""What is wrong with no net: nothing, the reset, the clock."""
SOON = 16  # cycles behind the reset

NETS = _nets()
SEEN = {
    **{net.replace("[", "_").rstrip("]"): f"DUT.{net}" for net in NETS},
    **{f"databus_{i}": f"DUT.databus[{i}]" for i in range(8)},
    **{f"addressbus_{i}": f"DUT.addressbus[{i}]" for i in range(16)},
    **{f"PC_{i}": f"DUT.PCval[{i}]" for i in range(16)},
    **{f"ALU_{i}": f"DUT.ALUresult[{i}]" for i in range(13)},
    **{s: f"DUT.{s}" for s in ("IRload", "Aload", "Bload", "AHload", "ALload")},
    **{s: f"DUT.{s}" for s in ("MEMload", "MEMena", "ALUena", "PCload_bar")},
    "RESET": "reset",
}


@dataclass(frozen=True, slots=True)
class Fault:
    """``kind`` on ``net``, joined to ``other`` where it needs two."""

    kind: str
    net: str
    other: str
    seed: int


def test_bench(fault: Fault | None) -> str:
    """Verilog of our own: clock, reset, one forced fault, and the nets that are seen."""
    kind = "" if fault is None else fault.kind
    stops = RESET_CYCLES + CYCLES // 3 if kind == "clock stops" else RESET_CYCLES + 2 * CYCLES
    released = 2 * CYCLES + RESET_CYCLES if kind == "held in reset" else RESET_CYCLES
    lines = [
        "`timescale 1ns/1ps",
        '`include "ttlcsvon8.v"',
        "module seen(input clk);",
        *(f"  wire {name} = bench.{path};" for name, path in SEEN.items()),
        "  wire CLK = clk;",
        "endmodule",
        "module bench;",
        "  reg clk = 0; reg reset = 0; integer n = 0; integer draw = 1; reg flaky = 0; wire [15:0] PCval;",
        f"  always #{HALF_NS} if (n < {stops}) clk = ~clk;",
        f"  initial #{2 * HALF_NS * (RESET_CYCLES + CYCLES)} $finish;",
        "  ttlcsvon8 DUT(clk, reset, PCval);",
        "  seen probe(clk);",
        f"  always @(posedge clk) begin n = n + 1; if (n == {released}) reset <= #3 1; end",
        '  initial begin $dumpfile("seen.vcd"); $dumpvars(1, probe); end',
    ]
    if fault is not None and fault.net:
        lines += _forced(fault)
    return "\n".join([*lines, "endmodule", ""])


def _forced(fault: Fault) -> list[str]:
    """What forces the fault. What drives the net is read behind the part's own output, so that the force cannot see
    itself; it comes 15 ns after it, as through the part."""
    own, other = NETS[fault.net], NETS[fault.other]
    lines = [
        f"  wire #(15) own = {own}; wire #(15) other = {other}; reg kept = 0;",
        f"  initial draw = {fault.seed + 1};",
        "  always @(posedge clk) begin kept <= own;"
        f" if ({'1' if fault.kind == 'weak' else '$urandom(draw) % 40 == 0 || flaky'})"
        f" flaky <= ($urandom(draw) % {6 if fault.kind == 'weak' else 3} == 0); end",
        f"  wire #({HALF_NS // 2}) tardy = own;",
    ]
    value = {
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
    at = (RESET_CYCLES + 50 + fault.seed % 300) * 2 * HALF_NS if fault.kind == "stuck later" else 1
    forced = [(fault.net, value)]
    if fault.kind in ("bridged and", "bridged or", "swapped"):
        forced.append((fault.other, "own" if fault.kind == "swapped" else value))
    lines.append(f"  reg armed = 0; initial #{at} armed = 1;")
    for i, (net, expression) in enumerate(forced):
        # the simulator forces a bit to a constant alone, so that it is forced anew at each change
        lines.append(f"  wire value{i} = {expression};")
        lines.append(f"  always @(value{i} or armed) if (armed) if (value{i} === 1'b1) force DUT.{net} = 1'b1;")
        lines.append(f"    else force DUT.{net} = 1'b0;")
    return lines


def prepare(design: Path, folder: Path, program: str) -> None:
    """A copy of the design with its ROMs and one of its programs, made by its own scripts."""
    if not folder.exists():
        shutil.copytree(design, folder, ignore=shutil.ignore_patterns(".git", "Docs", "Schematic"))
        for script in ("gen_ucode", "gen_alu"):
            subprocess.run(["perl", script], cwd=folder, check=True, capture_output=True)
    subprocess.run(["perl", "cas", f"Examples/{program}.s"], cwd=folder, check=True, capture_output=True)


def simulate(folder: Path, fault: Fault | None) -> Capture:
    """One run, every transition as the simulator dumps it."""
    (folder / "bench.v").write_text(test_bench(fault))
    build = ["iverilog", "-g2012", "-o", "bench.out", "-s", "bench", "bench.v"]
    subprocess.run(build, cwd=folder, check=True, capture_output=True)
    subprocess.run(["vvp", "bench.out"], cwd=folder, check=True, capture_output=True)
    return read_capture(folder / "seen.vcd")


def shows(good: Capture, suspect: Capture) -> int | None:
    """How many cycles behind the reset the two runs differ first at the end of a cycle; None where they never do."""
    at = (np.arange(RESET_CYCLES + CYCLES - 2, dtype=np.int64) + 1) * CYCLE_PS - CYCLE_PS // 20
    differ = np.zeros(len(at), np.bool_)
    for channel, trace in good.digital.items():
        differ |= trace.level_at(at) != suspect.digital[channel].level_at(at)
    return int(differ.argmax()) - RESET_CYCLES if differ.any() else None


def sampled(whole: Capture, name: str, begin: int, cycles: int, rng: random.Random) -> Capture:
    """What an instrument with a clock of its own sees of a run from cycle ``begin`` on; what floats reads high."""
    rate = Fraction(round(rng.uniform(11, 23) * 10**12 / CYCLE_PS))
    start = round((begin + rng.uniform(0.1, 0.4)) * CYCLE_PS)
    count = int(cycles * CYCLE_PS * rate / 10**12)
    at = sample_time_ps(np.arange(count + 1), rate)
    traces = {}
    for channel, trace in whole.digital.items():
        levels = np.minimum(trace.level_at(start + at[:-1]), 1).astype(np.uint8)
        change = np.append(True, levels[1:] != levels[:-1])
        traces[channel.split(".")[-1]] = digital_trace(at[:-1][change], levels[change], int(at[-1]))
    return Capture(name, traces, {}, int(-(-(10**12) * rate.denominator // rate.numerator)), "built")


def compared(
    good: Capture, suspect: Capture, rng: random.Random, told: Counter[str], outcomes: Counter[str], kind: str
) -> str:
    """Samples and compares one pair, counts what came of it, and gives it in words."""
    begins = [rng.randint(2, RESET_CYCLES - 6) for _ in range(2)]
    lengths = [rng.randint(600, 1000) for _ in range(2)]
    sides = [
        sampled(run, name, begin, length, rng)
        for run, name, begin, length in zip((good, suspect), ("good", "suspect"), begins, lengths, strict=True)
    ]
    found = compare(CompareRequest((sides[0],), (sides[1],), clock="CLK"))
    lineup, want = found.lineup, begins[0] - begins[1]
    result = "refused" if not lineup else "right" if lineup.offset_cycles == want else "wrong"
    told[f"{result} ({lineup.sure})"] += 1
    outcomes[f"{kind}: {found.outcome.word}"] += 1
    if kind == "fault" and (at := shows(good, suspect)) is not None:
        told[f"shows {'within' if at <= SOON else 'behind'} {SOON} cycles of the reset: {result}"] += 1
    return f"{result:8s} {lineup.sure:9s} {found.outcome.word}"


def main() -> None:
    """Draws faults, and tells of each and of all."""
    parser = argparse.ArgumentParser()
    parser.add_argument("design", type=Path, help="a clone of the design")
    parser.add_argument("--faults", type=int, default=20, help="how many")
    parser.add_argument("--first", type=int, default=1, help="number of the first; odd ones are for reporting")
    parser.add_argument("--boards", type=int, default=1, help="pairs of each kind of whole board for each program")
    arguments = parser.parse_args()
    told: Counter[str] = Counter()
    outcomes: Counter[str] = Counter()
    whole: Counter[str] = Counter()
    with tempfile.TemporaryDirectory() as temporary:
        folder, good, at_hand = Path(temporary) / "design", None, ""
        for number in range(arguments.first, arguments.first + 2 * arguments.faults, 2):
            rng = random.Random(f"{number} public")
            program = PROGRAMS[number // 2 // max(1, -(-arguments.faults // len(PROGRAMS))) % len(PROGRAMS)]
            if program != at_hand:
                prepare(arguments.design, folder, program)
                good, at_hand = simulate(folder, None), program
                for kind in WHOLE_BOARD:
                    suspect = simulate(folder, Fault(kind, "", "", number))
                    for again in range(arguments.boards):
                        own = random.Random(f"{number} {kind} {again}")
                        words = compared(good, suspect, own, whole, outcomes, kind)
                        print(f"{number:5d} {program:10s} {kind:15s} {'':15s} {words}", flush=True)
            net, other = rng.sample(list(NETS), 2)
            fault = Fault(KINDS[number // 2 % len(KINDS)], net, other, number)
            suspect = simulate(folder, fault)
            assert good is not None
            words = compared(good, suspect, rng, told, outcomes, "fault")
            print(f"{number:5d} {program:10s} {fault.kind:15s} {net:15s} {words}", flush=True)
    print("line-up of faults:", dict(told))
    print("line-up of whole boards:", dict(whole))
    print("outcomes:", dict(outcomes))


if __name__ == "__main__":
    main()
