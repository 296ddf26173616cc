"""How often a chip's planted fault is named: ``python -m tests.benchmarks.bench_chip_faults [MOST] [SEED] [CHANGES]``.

Every leg of every part gets each fault in turn (``tests/circuit/parts/leg_faults.py``) on a drawn board at 100 MHz: an
output held low or high, an input that reads high (open) or low (dead) whatever its net does, two outputs side by side
joined, an output four times as late as the sheet allows. ``named`` is the planted fault among those told,
``alone`` that one only. ``missed`` is a chip said to obey; not so where its dead input is told as one that nothing
shows to be read, or its output as asked for one level only. Counts so far are printed every hundred faults.
"""

from __future__ import annotations

import sys
import time
from collections import Counter
from itertools import islice

from tests.circuit.parts.leg_faults import KINDS, checked, every_fault, outcome


def _print(counts: dict[str, Counter[str]], seconds: float) -> None:
    for kind, found in counts.items():
        print(f"{kind}: {sum(found.values())}: " + ", ".join(f"{told} {n}" for told, n in found.most_common()))
    print(f"{seconds:.0f} s", flush=True)


def main() -> None:
    """Prints the counts by kind."""
    most, seed, changes = (
        int(sys.argv[k]) if len(sys.argv) > k else usual for k, usual in ((1, 100_000), (2, 9000), (3, 300))
    )
    counts: dict[str, Counter[str]] = {kind: Counter() for kind in KINDS}
    start = time.process_time()
    for k, (number, fault) in enumerate(islice(every_fault(), most)):
        told = outcome(checked(number, fault, seed + k, changes=changes), fault)
        counts[fault.kind][told] += 1
        if told in ("missed", "named otherwise"):
            print(f"{number}: {fault}: {told}", flush=True)
        if k % 100 == 99:
            _print(counts, time.process_time() - start)
    _print(counts, time.process_time() - start)


if __name__ == "__main__":
    main()
