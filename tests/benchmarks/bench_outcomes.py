"""How whole comparisons of a hard machine end: ``python -m tests.benchmarks.bench_outcomes [FIRST] [LAST] [wires]``.

Draws pairs of ``tests/machine`` with seeds from FIRST up to LAST: one fault of each kind, sound pairs (also with other
contents at power-up), unrelated programs, pure loops, boards held in reset. Counts how each comparison ends (agrees 0,
diverges 1, cannot tell 2), whether the offset is right, and by which word the line-up is called. A fault that agrees
clears a bad board; a sound pair that diverges accuses a good one. With ``wires`` each comparison has the machine's wire
list.
"""

from __future__ import annotations

import sys
from collections import Counter
from collections.abc import Callable, Iterator

from app.comparison_text import lineup_word
from tests.machine.bench import MachinePair, draw, draw_clean, draw_in_reset, draw_loop, draw_unrelated
from tests.machine.faults import KINDS
from tests.machine.wires import wire_list
from tracecore.comparison import CompareRequest, compare

OTHER_CONTENTS = "sound, other contents"
OTHERS: dict[str, Callable[[int], MachinePair]] = {
    "sound": draw_clean,
    "unrelated": draw_unrelated,
    "loop": draw_loop,
    "in reset": draw_in_reset,
}


def pairs(first: int, last: int) -> Iterator[tuple[str, int, MachinePair]]:
    """What each seed draws: in turn one of the fault kinds or of the others; a fault that shows nowhere is left out."""
    names = (*KINDS, *OTHERS)
    for seed in range(first, last):
        name = names[seed % len(names)]
        pair = OTHERS[name](seed) if name in OTHERS else draw(seed, name)
        if pair is not None and not (name in KINDS and pair.shows is None):
            yield name, seed, pair
        if name == "sound":
            yield OTHER_CONTENTS, seed, draw_clean(seed, power_up_alike=False)


def main() -> None:
    """Prints a row for each kind of pair, and each pair that ends as it must not."""
    first, last = (int(word) for word in (sys.argv[1:3] or ("1", "300")))
    wires = wire_list() if "wires" in sys.argv else None
    ends: Counter[tuple[str, str]] = Counter()
    offsets: Counter[tuple[str, str]] = Counter()
    words: Counter[tuple[str, bool]] = Counter()
    ranks: Counter[tuple[str, str]] = Counter()
    reasons: Counter[tuple[str, str]] = Counter()
    for name, seed, pair in pairs(first, last):
        found = compare(CompareRequest((pair.good,), (pair.suspect,), clock=pair.clock, wire_list=wires))
        ends[name, found.outcome.word] += 1
        right = bool(found.lineup) and pair.offset_cycles is not None and pair.right(found.lineup.offset_cycles)
        offsets[name, "right" if right else "wrong" if found.lineup else "refused"] += 1
        if found.lineup and pair.offset_cycles is not None:
            words[lineup_word(found.lineup), right] += 1
        reasons[name, found.outcome.reason.value] += found.outcome.word == "cannot tell"
        if pair.fault is not None and name in KINDS and pair.net in pair.names and found.causes:
            # of two joined nets either is the fault; an open input leaves its own net sound
            group = "open input" if name == "open input" else "line-up right" if right else "line-up not right"
            group += ", contents told" if any(n.code == "contents_differ" for n in found.notices) else ""
            place = next((c.rank for c in found.causes if c.signal in (pair.net, pair.fault.other)), 0)
            ranks[group, "first" if place == 1 else "among three" if 0 < place <= 3 else "later or not"] += 1
        sound = name in ("sound", OTHER_CONTENTS)
        if (name in KINDS and found.outcome.word == "agrees") or (sound and found.outcome.word == "diverges"):
            print(f"seed {seed} ({name}, {pair.start}): {found.outcome.word}; {lineup_word(found.lineup)}", flush=True)
    for name in (*KINDS, *OTHERS, OTHER_CONTENTS):
        told = "  ".join(f"{kind} {ends[name, kind]:3d}" for kind in ("agrees", "diverges", "cannot tell"))
        placed = "  ".join(f"{how} {offsets[name, how]:3d}" for how in ("right", "refused", "wrong"))
        print(f"{name:22s} {told}   offset: {placed}")
    told = ", ".join(f"{name}: {reason} {n}" for (name, reason), n in sorted(reasons.items()) if n)
    print(f"why it cannot be told: {told}")
    print(
        "words:", ", ".join(f"{word} {'right' if right else 'wrong'} {n}" for (word, right), n in sorted(words.items()))
    )
    for group in sorted({group for group, _ in ranks}):
        told = ", ".join(f"{how} {ranks[group, how]}" for how in ("first", "among three", "later or not"))
        print(f"faulty net, where captured, among the likely causes; {group}: {told}")


if __name__ == "__main__":
    main()
