"""Many outcomes in one table: counts, who is first, names that are kept, and memory that does not grow."""

from __future__ import annotations

import pickle

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from tracecore.compare.findings import Cause
from tracecore.comparison import _beside_the_count
from tracecore.repeats import table as module
from tracecore.repeats.table import CaptureOutcome, RepeatTable, table_of

SIGNALS = tuple(f"S{i}" for i in range(6))


def outcome(name: str, *diverges: str, first: str | None = None, also: tuple[str, ...] = (), cycles: int = 500):
    first = first or (diverges[0] if diverges else None)
    return CaptureOutcome(
        name,
        frozenset(diverges),
        first,
        17 if first else None,
        frozenset(SIGNALS) | set(diverges),
        frozenset(also),
        cycles,
    )


@st.composite
def outcomes(draw: st.DrawFn) -> CaptureOutcome:
    compared = draw(st.frozensets(st.sampled_from(SIGNALS)))
    if not compared:
        return CaptureOutcome("drawn", reason="no clock")
    diverges = draw(st.frozensets(st.sampled_from(sorted(compared))))
    firsts = sorted(draw(st.frozensets(st.sampled_from(sorted(diverges)), min_size=1))) if diverges else []
    cycles = draw(st.integers(1, 1000))
    at = draw(st.integers(0, cycles)) if diverges else None
    return CaptureOutcome("drawn", diverges, firsts[0] if firsts else None, at, compared, frozenset(firsts[1:]), cycles)


@given(st.lists(outcomes(), max_size=30))
def test_counts_are_those_of_counting_by_hand(drawn):
    table = table_of(drawn)
    counted = [o for o in drawn if o.compared]
    assert (table.captures, table.uncounted) == (len(counted), len(drawn) - len(counted))
    assert table.diverging == sum(bool(o.diverges) for o in drawn)
    for signal in SIGNALS:
        compared = [o for o in counted if signal in o.compared]
        if not compared:
            assert signal not in table.signals
            continue
        row = table.row(signal)
        assert (row.share.diverging, row.share.captures) == (sum(signal in o.diverges for o in compared), len(compared))
        credit = sum(1 / len(o.firsts) for o in compared if signal in o.firsts)
        assert row.first_credit == pytest.approx(credit)
        assert len(row.captures) + row.forgotten == row.share.diverging
    assert sum(r.first_credit for r in table.rows()) == pytest.approx(table.diverging)
    assert table.fewest_cycles == min((o.cycles for o in counted), default=None)


@given(st.lists(outcomes(), max_size=12), st.randoms(use_true_random=False))
def test_the_order_of_the_captures_changes_no_verdict(drawn, random):
    shuffled = list(drawn)
    random.shuffle(shuffled)
    a, b = table_of(drawn), table_of(shuffled)
    assert a.first_verdict() == b.first_verdict()
    assert [r.signal for r in a.rows()] == [r.signal for r in b.rows()]


@given(st.lists(outcomes(), max_size=12))
def test_who_was_first_is_counted_pair_by_pair(drawn):
    found = table_of(drawn).first_verdict()
    if found.signal is None:
        assert not any(o.diverges for o in drawn)
        return
    firsts = [o.firsts for o in drawn if o.diverges]
    assert found.before == sum(found.signal in f and found.rival not in f for f in firsts)
    assert found.after == sum(found.rival is not None and found.rival in f and found.signal not in f for f in firsts)


def test_nothing_yet():
    table = RepeatTable()
    assert table.rows() == ()
    assert table.share.share is None
    assert table.first_verdict().sentence == "No capture diverges."
    assert table.proof().sentence == "No capture counts yet, so nothing is shown."


def test_a_capture_that_could_not_be_compared_counts_in_no_share():
    table = table_of([outcome("a"), CaptureOutcome("b", reason="no clock"), outcome("c")])
    assert (table.captures, table.uncounted) == (2, 1)
    assert [o.name for o in table.recent] == ["a", "b", "c"]
    assert "Of 1 more it cannot be told" in table.proof().sentence


def test_a_signal_that_one_capture_lacks_is_counted_over_the_others():
    table = table_of([outcome("a", "S1"), CaptureOutcome("b", compared=frozenset({"S2"}), cycles=9)])
    assert (table.row("S1").share.diverging, table.row("S1").share.captures) == (1, 1)
    assert table.row("S2").share.captures == 2
    assert table.fewest_cycles == 9


def test_signals_tied_for_first_share_the_credit():
    table = table_of([outcome("a", "S1", "S2", "S3", also=("S2",)), outcome("b", "S1")])
    assert [table.row(s).first_credit for s in ("S1", "S2", "S3")] == [1.5, 0.5, 0]
    verdict = table.first_verdict()
    assert (verdict.signal, verdict.rival, verdict.before, verdict.after) == ("S1", "S2", 1, 0)
    assert verdict.sentence.startswith("S1 is first, alone or beside others, in 2 of 2 diverging captures")


def test_always_tied_can_never_be_told_apart():
    table = table_of(outcome(str(i), "S1", "S2", also=("S2",)) for i in range(40))
    verdict = table.first_verdict()
    assert (verdict.before, verdict.after, verdict.p_value, verdict.more_needed) == (0, 0, 1, None)
    assert verdict.sentence == (
        "S1 is first, alone or beside others, in 40 of 40 diverging captures; "
        "S2 is first about as often, so it cannot be told which of the two fails first."
    )


def test_first_in_four_of_five_is_not_sure_yet():
    table = table_of([*(outcome(str(i), "S3") for i in range(4)), outcome("4", "S5", "S3")])
    verdict = table.first_verdict()
    assert verdict.sentence == "S3 is first in 4 of 5 diverging captures; 7 more would be needed to be sure."
    assert table_of(outcome(str(i), "S3") for i in range(5)).first_verdict().more_needed == 1
    assert (
        table_of(outcome(str(i), "S3") for i in range(6))
        .first_verdict()
        .sentence.endswith("6 diverging captures; that is no chance (95 % confidence).")
    )


def test_memory_stays_bounded_while_counts_go_on(monkeypatch):
    monkeypatch.setattr(module, "KEPT", 50)
    sizes = {}
    table = RepeatTable()
    for i in range(1200):
        table = table.with_outcome(outcome(f"capture {i:06d}", *(("S1", "S4") if i % 3 == 0 else ())))
        if i + 1 in (300, 1200):
            sizes[i + 1] = len(pickle.dumps((dict(table.signals), table.recent, table.recent_diverging)))
    assert sizes[1200] < 1.05 * sizes[300]
    row = table.row("S1")
    assert (row.share.diverging, row.share.captures, len(row.captures), row.forgotten) == (400, 1200, 50, 350)
    assert row.captures[-1] == "capture 001197"
    assert len(table.recent) == 50


def test_a_table_is_not_changed_by_growing():
    before = table_of([outcome("a", "S1")])
    after = before.with_outcome(outcome("b", "S1"))
    assert (before.captures, before.signals["S1"].diverging) == (1, 1)
    assert (after.captures, after.signals["S1"].diverging) == (2, 2)
    with pytest.raises(TypeError):
        after.signals["S1"] = before.signals["S1"]


@pytest.mark.parametrize(
    "facts",
    [
        {"diverges": frozenset({"A"}), "first": "A"},
        {"diverges": frozenset({"A"}), "compared": frozenset({"A"})},
        {"first": "A", "compared": frozenset({"A"})},
        {"diverges": frozenset({"A"}), "first": "B", "compared": frozenset({"A", "B"})},
        {"diverges": frozenset({"A"}), "first": "A", "also_first": frozenset({"A"}), "compared": frozenset({"A"})},
        {"also_first": frozenset({"A"}), "compared": frozenset({"A"})},
        {"compared": frozenset({"A"}), "reason": "no clock"},
    ],
)
def test_an_outcome_that_contradicts_itself_is_refused(facts):
    with pytest.raises(ValueError, match=r"first|compared"):
        CaptureOutcome("x", **facts)


def _capture_with_a_root(rng: np.random.Generator, signals: list[str]) -> CaptureOutcome:
    """A root (signals[0]) and 20 that follow 1 to 49 cycles later; three more fall in the root's own cycle half of
    the time; in one capture of ten something unrelated comes first."""
    at = {signals[0]: 0.0}
    for signal in signals[1:4]:
        at[signal] = 0.0 if rng.random() < 0.5 else float(rng.integers(1, 50))
    at |= {signal: float(rng.integers(1, 50)) for signal in signals[4:]}
    if rng.random() < 0.1:
        at[signals[int(rng.integers(4, 24))]] = -1.0
    least = min(at.values())
    # named in an order that has nothing to do with which is the root
    firsts = sorted(s for s, when in at.items() if when == least)
    everything = frozenset(signals)
    return CaptureOutcome("built", everything, firsts[0], 0, everything, frozenset(firsts[1:]), 100)


def test_more_captures_find_the_root_more_often():
    rng = np.random.default_rng(2026)
    right = {}
    for captures in (1, 5, 10):
        hits = 0
        for _ in range(120):
            signals = [f"N{i:02d}" for i in rng.permutation(24)]
            table = table_of(_capture_with_a_root(rng, signals) for _ in range(captures))
            hits += table.first_verdict().signal == signals[0]
        right[captures] = hits / 120
    assert right[1] < right[5] < right[10]
    assert right[5] > 0.85
    assert right[10] > 0.97


def test_where_the_count_and_the_first_cause_differ_the_cause_says_so():
    def cause(signal: str) -> Cause:
        return Cause(1, signal, "wrong state", 1, 1, "", ("It is so.",), (), "")

    outcomes = [outcome(f"run {i}", "A", "B", first="A" if i else "B") for i in range(4)]
    table = table_of(outcomes)
    assert _beside_the_count((cause("A"), cause("B")), table)[0].because == ("It is so.",)
    first, second = _beside_the_count((cause("B"), cause("A")), table)
    assert first.because[-1].startswith("Of 4 captures that diverge A goes wrong first in 3, B in 1;")
    assert second.because == ("It is so.",)
    assert _beside_the_count((cause("B"),), table_of(outcomes[:1]))[0].because == ("It is so.",)
