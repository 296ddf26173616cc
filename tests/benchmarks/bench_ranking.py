"""How often the planted fault is named first, and among the first three, over seeded faults of eight kinds.

    .venv/bin/python -m tests.benchmarks.bench_ranking [FAULTS_OF_EACH_KIND] [CYCLES]

Whole comparisons of captures of 38 nets at 100 MS/s from reset, in shuffled order; see ``tests.netlist`` for what the
boards are. The offset is given as 0, as both captures start with the reset: this measures the ranking apart from the
line-up, which finds no offset by itself on some of these boards (nothing is ranked there). Faults that show no
divergence are left out and counted. For an open input the net with the wrong levels is the output of the part with the
open pin; that is what counts as right, and how often the pin's net is said too is told beside it. The last line counts
an open input only where the sound net at the pin is named. Draws start at 1000: the rules were tried on lower ones.
"""

from __future__ import annotations

import sys
from dataclasses import dataclass

from tests.netlist import CLOCK, KINDS, Case, make_case
from tracecore.circuit.wire_list import WireList
from tracecore.comparison import CompareRequest, compare

FIRST_DRAW = 1000


@dataclass(slots=True)
class Score:
    """Counts over one kind of fault."""

    faults: int = 0
    first: int = 0
    three: int = 0
    pin: int = 0
    strict: int = 0


def judge(case: Case, wires: WireList | None, score: Score) -> bool:
    """Compares and counts; False where nothing diverges."""
    comparison = compare(CompareRequest((case.good,), (case.suspect,), clock=CLOCK, offset=0, wire_list=wires))
    causes = comparison.causes
    if not causes:
        return False
    score.faults += 1
    score.first += causes[0].signal in case.truth
    score.three += any(c.signal in case.truth for c in causes[:3])
    # the strictest count: an open input only by the sound net whose pin is open
    strict = {case.open_net} if case.open_net else case.truth
    score.strict += causes[0].signal in strict
    score.pin += bool(case.open_net) and any(f"{case.open_net} as" in line for line in causes[0].because)
    return True


def scores(kind: str, faults: int, cycles: int) -> tuple[Score, Score, int]:
    """Without and with the wire list, and how many drawn faults showed nothing."""
    plain, listed, silent, number = Score(), Score(), 0, FIRST_DRAW
    while plain.faults < faults and number < FIRST_DRAW + 6 * faults:
        case = make_case(kind, number, cycles)
        number += 1
        if case is None:
            continue
        if not judge(case, None, plain):
            silent += 1
            continue
        judge(case, case.wires, listed)
    return plain, listed, silent


def main(faults: int, cycles: int) -> None:
    """Prints the table."""
    print(f"{faults} faults of each kind, {cycles} cycles; named first / among the first three")
    totals = Score(), Score()
    for kind in KINDS:
        *both, silent = scores(kind, faults, cycles)
        for total, score in zip(totals, both, strict=True):
            for name in ("faults", "first", "three", "pin", "strict"):
                setattr(total, name, getattr(total, name) + getattr(score, name))
        print(_line(kind, *both) + f"   {silent} without effect", flush=True)
    print(_line("all", *totals))
    shares = " and ".join(f"{s.strict / max(1, s.faults):.3f}" for s in totals)
    print(f"first, where an open input counts only by the sound net at its pin: {shares} (without, with list)")


def _line(name: str, plain: Score, listed: Score) -> str:
    cells = [f"{name:16s} n={plain.faults:3d}"]
    for title, s in (("without", plain), ("with list", listed)):
        n = max(1, s.faults)
        cells.append(f"{title} {s.first / n:.3f} / {s.three / n:.3f}")
    if listed.pin:
        cells.append(f"pin said {listed.pin}")
    return "   ".join(cells)


if __name__ == "__main__":
    main(*(int(a) for a in (sys.argv[1:] + ["50", "600"][len(sys.argv) - 1 :])))
