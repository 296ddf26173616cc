"""How often a chip's planted fault is named: ``python -m tests.benchmarks.bench_chip_faults [FAULTS_A_PART] [SEED]``.

Each part gets drawn faults of five kinds on a drawn board at 100 MHz: an output held low or high, an input that reads
high (open) or low (dead) whatever its net does, two outputs joined, an output four times as late as the sheet allows.
``named`` is the planted fault among those told, ``alone`` that one only. ``missed`` is a chip said to obey;
not so where
its dead input is told as one that nothing shows to be read, or its output as asked for one level only.
"""

from __future__ import annotations

import random
import sys
import time
from collections import Counter

from tests.circuit.parts.drawn_chip import Fault, drawn_chip
from tests.circuit.parts.reference import COMBINATIONAL, MEMORIES
from tracecore.circuit.parts.catalogue import Part, find_part
from tracecore.circuit.parts.delays import part_times
from tracecore.circuit.parts.obedience import Obedience, check_part
from tracecore.circuit.parts.outputs import input_names, output_values

KINDS = {
    "stuck": "stuck output",
    "open": "dead input",
    "dead": "dead input",
    "joined": "joined outputs",
    "late": "late output",
}


def drawn_fault(draw: random.Random, part: Part, kind: str) -> Fault | None:
    """One fault of a kind; None where the part has no place for it."""
    outputs = list(output_values(part, part.number))
    inputs = [name for name in input_names(part, part.number) if name not in outputs]
    if kind == "joined":
        return Fault(kind, tuple(draw.sample(outputs, 2))) if len(outputs) > 1 else None
    if kind in ("open", "dead"):
        return Fault(kind, (draw.choice(inputs),), int(kind == "open"))
    return Fault(kind, (draw.choice(outputs),), draw.randrange(2))


def outcome(found: Obedience, fault: Fault) -> str:
    """What was made of a planted fault."""
    if found.verdict != "disobeys":
        still = {c.name for c in found.outputs if not (c.should_high and c.should_low)}
        shown = set(fault.names) - set(found.unshown) - still
        return "cannot be told" if found.verdict != "obeys" else "missed" if shown else "told as not shown"
    kind = KINDS[fault.kind]
    level = None if fault.kind in ("joined", "late") else fault.level
    right = [e for e in found.explanations if e.kind == kind and set(e.names) == set(fault.names) and e.level == level]
    if right:
        return "named alone" if len(found.explanations) == 1 else "named among others"
    return "named otherwise" if found.explanations else "wrong, not named"


def main() -> None:
    """Prints the counts by kind."""
    each = int(sys.argv[1]) if len(sys.argv) > 1 else 5
    seed = int(sys.argv[2]) if len(sys.argv) > 2 else 9000
    counts: dict[str, Counter[str]] = {kind: Counter() for kind in KINDS}
    start = time.perf_counter()
    for number in (*COMBINATIONAL, *MEMORIES):
        part = find_part(number)
        draw = random.Random(f"{seed} {number}")
        for k in range(each):
            kind = list(KINDS)[k % len(KINDS)]
            fault = drawn_fault(draw, part, kind)
            if fault is None:
                continue
            times = part_times(number, part)
            pins = drawn_chip(
                part, times, seed + k, resolution_ps=10_000, changes=300, pace_ps=500_000, fault=fault, hasty=0.02
            )
            told = outcome(check_part(part, number, pins), fault)
            counts[kind][told] += 1
            if told in ("missed", "named otherwise"):
                print(f"{number}: {fault}: {told}", flush=True)
    for kind, found in counts.items():
        print(f"{kind}: {sum(found.values())}: " + ", ".join(f"{told} {n}" for told, n in found.most_common()))
    print(f"{time.perf_counter() - start:.0f} s")


if __name__ == "__main__":
    main()
