"""The line-up, the outcome and the ranking on public computers of discrete TTL, simulated in Verilog by others' parts.

    .venv/bin/python -m tests.benchmarks.bench_public_design gated_clocks /tmp/gated_clocks [--faults 20] [--first 1]

The designs, and how each is fetched, stand in ``tests/benchmarks/public_design``. iverilog, vvp, perl and cpp must be
there (Debian: iverilog, perl, cpp). The test bench that is written here resets the design, cuts one of its nets, or
two, behind what drives it to make a fault, and dumps the nets that clips would sit on. A good and a suspect run are
then sampled by two clocks of their own at 11 to 23 samples a cycle, from moments of their own within the reset, and
compared. Told are the offset (right, refused, wrong), how sure it was said to be, the outcome, where the faulty net
stands among the likely causes, how soon behind the reset the runs differ, and for how long a net differs at most in
what both captures hold. Two sample periods are at most 0.18 of a cycle: what differs for longer cannot hide between
samples, and a board that agrees all the same was cleared wrongly. Besides faults each program runs sound on
both sides, held in reset, with a clock that stops, and where the board can wait with other waits.

Odd numbers of faults are for reporting, even ones for trying rules.
"""

from __future__ import annotations

import argparse
import random
import tempfile
from collections import Counter
from dataclasses import dataclass, field
from fractions import Fraction
from pathlib import Path

import numpy as np

from tests.benchmarks.public_design import DESIGNS, Design
from tests.benchmarks.public_design.simulation import (
    CYCLES,
    KINDS,
    RESET_CYCLES,
    WAITS,
    WHOLE_BOARD,
    Fault,
    draw_fault,
    simulate,
)
from tracecore.capture import Capture, digital_trace, sample_time_ps
from tracecore.comparison import CompareRequest, compare

SOON = 16  # cycles behind the reset
SLOWEST = 11  # samples a cycle


def shows(good: Capture, suspect: Capture, cycle_ps: int) -> int | None:
    """How many cycles behind the reset the two runs differ first at the end of a cycle; None where they never do."""
    at = (np.arange(RESET_CYCLES + CYCLES - 2, dtype=np.int64) + 1) * cycle_ps - cycle_ps // 20
    differ = np.zeros(len(at), np.bool_)
    for channel, trace in good.digital.items():
        differ |= read(trace.level_at(at)) != read(suspect.digital[channel].level_at(at))
    return int(differ.argmax()) - RESET_CYCLES if differ.any() else None


def longest_difference(good: Capture, suspect: Capture, begin_ps: int, end_ps: int) -> tuple[int, str]:
    """For how long, in ps, one net differs at a stretch between two moments of both runs, and which does so longest."""
    longest = (0, "")
    for channel, trace in good.digital.items():
        other = suspect.digital[channel]
        at = np.unique(np.concatenate([trace.times_ps, other.times_ps, [begin_ps, end_ps]]))
        at = at[(at >= begin_ps) & (at <= end_ps)]
        differ = read(trace.level_at(at[:-1])) != read(other.level_at(at[:-1]))
        edges = np.flatnonzero(np.diff(np.concatenate([[False], differ, [False]])))
        if edges.size:
            longest = max(longest, (int((at[edges[1::2]] - at[edges[::2]]).max()), channel))
    return longest


def read(levels: np.ndarray) -> np.ndarray:
    """What an instrument reads: what floats or is not known is high."""
    return np.minimum(levels, 1).astype(np.uint8)


def sampled(whole: Capture, name: str, begin_ps: int, cycles: int, cycle_ps: int, rng: random.Random) -> Capture:
    """What an instrument with a clock of its own sees of a run from a moment on."""
    rate = Fraction(round(rng.uniform(SLOWEST, 23) * 10**12 / cycle_ps))
    count = int(cycles * cycle_ps * rate / 10**12)
    at = sample_time_ps(np.arange(count + 1), rate)
    traces = {}
    for channel, trace in whole.digital.items():
        levels = read(trace.level_at(begin_ps + at[:-1]))
        change = np.append(True, levels[1:] != levels[:-1])
        traces[channel.split(".")[-1]] = digital_trace(at[:-1][change], levels[change], int(at[-1]))
    return Capture(name, traces, {}, int(-(-(10**12) * rate.denominator // rate.numerator)), "built")


@dataclass
class Tally:
    """What came of all pairs."""

    lines: dict[str, Counter[str]] = field(default_factory=dict)

    def count(self, line: str, what: str) -> None:
        """One more of ``what`` in a line of the answer."""
        self.lines.setdefault(line, Counter())[what] += 1


def compared(
    design: Design, good: Capture, suspect: Capture, fault: Fault, rng: random.Random, tally: Tally, kind: str
) -> str:
    """Samples and compares one pair, counts what came of it, and gives it in words."""
    cycle_ps = design.cycle_ps
    begins = [rng.randint(2, RESET_CYCLES - 6) for _ in range(2)]
    lengths = [rng.randint(600, 1000) for _ in range(2)]
    starts = [round((begin + rng.uniform(0.1, 0.4)) * cycle_ps) for begin in begins]
    sides = [
        sampled(run, name, start, length, cycle_ps, rng)
        for run, name, start, length in zip((good, suspect), ("good", "suspect"), starts, lengths, strict=True)
    ]
    found = compare(CompareRequest((sides[0],), (sides[1],), clock="CLK"))
    lineup, want = found.lineup, begins[0] - begins[1]
    result = "refused" if not lineup else "right" if lineup.offset_cycles == want else "wrong"
    tally.count(f"line-up, {kind}", f"{result} ({lineup.sure})")
    tally.count(f"outcome, {kind}", found.outcome.word)
    end = min(start + length * cycle_ps for start, length in zip(starts, lengths, strict=True))
    differs, where = longest_difference(good, suspect, max(starts), end)
    told = f"{result:8s} {lineup.sure:9s} {found.outcome.word:12s}" + (
        f"({found.outcome.reason})" if found.outcome.word == "cannot tell" else ""
    )
    if kind == "fault":
        at = shows(good, suspect, cycle_ps)
        if at is not None:
            tally.count(f"line-up where it shows {'within' if at <= SOON else 'behind'} {SOON} cycles", result)
        clips = {net.clip(bit) for net, bit in fault.cut}
        rank = next((cause.rank for cause in found.causes if cause.signal in clips), 0)
        told += f" rank {rank or '-'} shows {at} "
        if result == "right" and found.outcome.word == "diverges":
            place = "first" if rank == 1 else "among three" if 0 < rank <= 3 else "later or not"
            tally.count("faulty net among the likely causes", place)
            if rank != 1 and found.causes:
                told += f"(first {found.causes[0].signal}) "
    if found.outcome.word == "agrees" and differs:
        hidden = differs * SLOWEST <= 2 * cycle_ps
        tally.count(f"agrees, {kind}, though a net differs", "between samples" if hidden else "for longer")
        told += f" differs {differs / 1000:.0f} ns at {where.split('.')[-1]}"
    return told


def main() -> None:
    """Draws faults, and tells of each and of all."""
    parser = argparse.ArgumentParser()
    parser.add_argument("design", choices=DESIGNS, help="which design")
    parser.add_argument("fetched", type=Path, help="a clone of it")
    parser.add_argument("--faults", type=int, default=20, help="how many")
    parser.add_argument("--first", type=int, default=1, help="number of the first; odd ones are for reporting")
    parser.add_argument("--boards", type=int, default=1, help="pairs of each kind of whole board for each program")
    arguments = parser.parse_args()
    design = DESIGNS[arguments.design]
    each = max(1, -(-arguments.faults // len(design.programs)))
    tally = Tally()
    with tempfile.TemporaryDirectory() as temporary:
        folder, good, at_hand = Path(temporary) / "design", None, ""
        for count in range(arguments.faults):
            number = arguments.first + 2 * count
            rng = random.Random(f"{number} public")
            program = design.programs[count // each]
            if program != at_hand:
                design.prepare(arguments.fetched, folder, program)
                good, at_hand = simulate(design, folder, Fault("sound", number)), program
                for kind in (*WHOLE_BOARD, *((WAITS,) if design.waits else ())):
                    for again in range(arguments.boards):
                        whole = Fault(kind, number + 1 + again)
                        own = random.Random(f"{number} {kind} {again}")
                        words = compared(design, good, simulate(design, folder, whole), whole, own, tally, kind)
                        print(f"{number:5d} {program:11s} {kind:15s} {'':25s} {words}", flush=True)
            fault = draw_fault(design, KINDS[number // 2 % len(KINDS)], rng, number)
            assert good is not None
            words = compared(design, good, simulate(design, folder, fault), fault, rng, tally, "fault")
            nets = "+".join(net.clip(bit) for net, bit in fault.cut)
            print(f"{number:5d} {program:11s} {fault.kind:15s} {nets:25s} {words}", flush=True)
    for line, counts in sorted(tally.lines.items()):
        print(f"{line}: " + ", ".join(f"{what} {n}" for what, n in sorted(counts.items())))


if __name__ == "__main__":
    main()
