"""Stretches of standing still, and cycles with the same states elsewhere, against plain readings of drawn states."""

from __future__ import annotations

from types import SimpleNamespace

import numpy as np

from tracecore.capture import UNKNOWN
from tracecore.compare.now_and_then import comes_and_goes
from tracecore.compare.standing_still import FEWEST_MOVES, MOST_STRETCHES, stretches_of_standing_still

DRAWS = 150


def drawn(seed: int) -> SimpleNamespace:
    """A signal that stands still now and then, is wrong for a cycle, or undecided; what else a divergence holds is of
    no matter here."""
    rng = np.random.default_rng(seed)
    cycles = int(rng.integers(8, 120))
    good = (np.cumsum(rng.random(cycles) < rng.choice([0.2, 0.6])) % 2).astype(np.uint8)
    suspect = good.copy()
    for _ in range(int(rng.integers(0, 6))):
        first = int(rng.integers(0, cycles))
        suspect[first : first + int(rng.integers(1, 30))] = rng.integers(0, 2)
    for side in (good, suspect):
        side[rng.random(cycles) < rng.choice([0, 0.05])] = UNKNOWN
    number = np.cumsum(rng.choice([1, 3], cycles, p=[0.95, 0.05]))
    differing = (good != UNKNOWN) & (suspect != UNKNOWN) & (good != suspect)
    beside = np.append(differing[1:], False) if rng.random() < 0.5 else differing
    lone = np.arange(int((good[1:] != good[:-1]).sum()))
    return SimpleNamespace(
        good_states=good,
        suspect_states=suspect,
        good_cycles=number,
        differing=differing,
        cycles=number[differing | beside],
        matching=SimpleNamespace(missing=lone, extra=lone[:0]),
    )


def plainly(found: SimpleNamespace) -> list[tuple[int, int, int, int]] | None:
    """Cycle by cycle: first and last, level, and changes of the good side; None where something else differs too."""
    level, number, before = UNKNOWN, 0, UNKNOWN
    stretches: dict[int, list[int]] = {}
    moves = [False]
    for i, (good, suspect) in enumerate(zip(found.good_states, found.suspect_states, strict=True)):
        number += suspect != UNKNOWN and level not in (UNKNOWN, suspect)
        level = level if suspect == UNKNOWN else int(suspect)
        if i:
            moves.append(good != UNKNOWN and before not in (UNKNOWN, good))
        before = before if good == UNKNOWN else good
        if found.differing[i]:
            stretches.setdefault(number, []).append(i)
    wrong, out, covered = [i for i, n in enumerate(found.good_cycles) if n in found.cycles], [], set()
    for own in stretches.values():
        first, last = own[0], own[-1]
        changes = sum(moves[first : last + 1])
        undecided = sum(s == UNKNOWN for s in found.suspect_states[first : last + 1])
        if changes >= FEWEST_MOVES and undecided <= 0.1 * (last - first + 1):
            beside = [i for i in wrong if first - 1 <= i <= last + 1]
            covered |= set(beside)
            ends = found.good_cycles[beside[0]], found.good_cycles[beside[-1]]
            out.append((*ends, int(found.suspect_states[first]), changes))
    to_the_end = bool(out) and out[-1][1] >= found.good_cycles[-1]
    return None if covered != set(wrong) or to_the_end or len(out) > MOST_STRETCHES else out


def test_stretches_are_those_of_a_plain_reading() -> None:
    seen = 0
    for seed in range(DRAWS):
        found = drawn(seed)
        stretches = [(s.first, s.last, s.level, s.moves) for s in stretches_of_standing_still(found)]
        if stretches:
            assert stretches == plainly(found)
            seen += 1
    assert seen > DRAWS / 10


def test_none_is_left_out_where_only_standing_still_is_seen() -> None:
    seen = 0
    for seed in range(DRAWS):
        found = drawn(seed)
        # undecided cycles hide transitions, which then count as missing beyond what stands still
        if UNKNOWN not in (*found.good_states, *found.suspect_states) and (plain := plainly(found)):
            found.matching.missing = np.arange(1000)
            assert [(s.first, s.last, s.level, s.moves) for s in stretches_of_standing_still(found)] == plain
            seen += 1
    assert seen > 2


def test_cycles_with_the_same_levels_elsewhere_are_those_of_a_plain_count() -> None:
    seen = 0
    for seed in range(DRAWS // 3):
        found = drawn(seed)
        rng = np.random.default_rng((9, seed))
        rows = rng.integers(0, 2, (int(rng.integers(1, 8)), len(found.differing))).astype(np.uint8)
        rows[:, rng.random(len(found.differing)) < 0.8] = rows[:, :1]
        others = {f"S{i}": SimpleNamespace(suspect_states=row) for i, row in enumerate(rows)}
        known = (found.good_states != UNKNOWN) & (found.suspect_states != UNKNOWN)
        wrong = [i for i, n in enumerate(found.good_cycles) if n in found.cycles]
        right = [i for i in range(1, len(known)) if known[i] and i not in wrong]
        pairs = [tuple(rows[:, i]) + tuple(rows[:, i - 1]) if i else () for i in range(len(known))]
        twins = sum(pairs[i] in {pairs[j] for j in right} for i in wrong)
        told = comes_and_goes(found, others)  # type: ignore[arg-type]
        assert told == (twins if twins >= max(2, 0.5 * len(wrong)) else 0)
        seen += bool(told)
    assert seen > DRAWS / 30
