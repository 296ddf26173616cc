"""What the Line-up page says and counts, on hand-built line-ups: coverage that closes, slips, drift, sentences."""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from app.comparison_text import LINEUP_WORDS
from app.model.condition_effect import effect, read_condition
from app.model.lineup_words import (
    agreement_at,
    book_words,
    change_words,
    course_words,
    doubtful_from,
    drift_amount,
    drift_words,
    offset_after,
    signal_shares,
    verdict,
)
from tests.widgets.hand_built import bench_comparison, without_lineup
from tracecore.lineup.drift import drift, drift_curve
from tracecore.lineup.lineup import Candidate, Lineup, MatchedRun
from tracecore.lineup.rivals import RIVAL_SHARE
from tracecore.lineup.slips import Slip


def laid(stretches: list[tuple[str, int, int]], alone: tuple[int, int, int, int] = (0, 0, 0, 0)) -> Lineup:
    """A line-up of stretches (kind, good cycles, suspect cycles) with cycles of one side before and behind."""
    a, b = alone[0], alone[1]
    runs, slips = [], []
    for kind, good, suspect in stretches:
        if kind == "paired":
            runs.append(MatchedRun(a, b, good))
        else:
            slips.append(Slip(a, b, suspect, good, kind))
        a, b = a + good, b + suspect
    edges = np.arange(a + alone[2] + 1) * 100, np.arange(b + alone[3] + 1) * 101
    return Lineup("MCLK", "rising", "unique", "", alone[1] - alone[0], 1.0, tuple(runs), (), *edges, None, tuple(slips))


stretch = st.one_of(
    st.integers(1, 50).map(lambda n: ("paired", n, n)),
    st.integers(1, 9).map(lambda n: ("inserted", 0, n)),
    st.integers(1, 9).map(lambda n: ("missing", n, 0)),
    st.tuples(st.sampled_from(["diverged", "unsure"]), st.integers(1, 30), st.integers(1, 30)),
)


@given(st.lists(stretch, max_size=8), st.tuples(*[st.integers(0, 5)] * 4))
def test_the_coverage_of_both_sides_closes(stretches, alone) -> None:
    lineup = laid([("paired", 10, 10), *stretches, ("paired", 4, 4)], alone)
    good, suspect = lineup.coverage
    assert good.closes
    assert suspect.closes
    assert good.matched == suspect.matched == lineup.matched_cycles
    assert (good.before, good.after, suspect.before, suspect.after) == (alone[0], alone[2], alone[1], alone[3])
    assert book_words("good", good).endswith(f"= {len(lineup.good_edges_ps) - 1} cycles")


def test_coverage_that_does_not_close_says_so() -> None:
    lineup = laid([("paired", 10, 10), ("missing", 2, 0), ("paired", 10, 10)])
    good, _ = replace(lineup, slips=()).coverage
    assert not good.closes
    assert "does not add up" in book_words("good", good)


def test_the_offset_behind_each_slip_is_that_of_the_next_run() -> None:
    lineup = laid([("paired", 9, 9), ("inserted", 0, 2), ("paired", 5, 5), ("diverged", 3, 8), ("paired", 4, 4)])
    assert [offset_after(s) for s in lineup.slips] == [r.suspect_start - r.good_start for r in lineup.runs[1:]]
    assert [change_words(s) for s in lineup.slips] == ["+2 in suspect", "3 against 8"]
    assert course_words(lineup) == "from 0 at the start to +7 at the end, in 2 slips"


def test_only_one_status_is_certain_and_has_the_tick() -> None:
    base = laid([("paired", 10, 10)])
    for status in LINEUP_WORDS:
        found = verdict(replace(base, status=status, runs=() if status == "none" else base.runs))
        assert (found.mark == "fine") == (status == "unique")
        assert found.certainty.startswith("Certain") == (status == "unique")
    # the percentage beside the word is never at odds with it
    for confidence, word in ((1.0, "Certain"), (0.989, "Likely"), (0.5, "Doubtful")):
        found = verdict(replace(base, confidence=confidence))
        assert found.certainty.startswith(word)
        assert (found.mark == "fine") == (word == "Certain")


def test_drift_leaves_slips_out() -> None:
    # the suspect's cycle is 101 where the good one's is 100: one apart a cycle, whatever is inserted
    curve = drift_curve(laid([("paired", 50, 50), ("inserted", 0, 7), ("paired", 50, 50)]), 1000)
    assert curve is not None
    assert curve.apart_ps.tolist() == list(range(100))
    assert all(b > a for a, b in pairwise(curve.cycles.tolist()))
    assert drift_curve(without_lineup().lineup) is None
    found = drift(laid([("paired", 50, 50), ("inserted", 0, 7), ("paired", 50, 50)]), 1, 1)
    assert drift_amount(found) == "+1.00 %, suspect cycle longer"
    assert drift_words(found)[0] == "Suspect clock 9.901 GHz, good 10 GHz."
    assert "both clocks are steady" in drift_words(found)[1]
    assert drift_words(None) == []


def test_a_rival_is_told_by_how_near_it_comes() -> None:
    base = laid([("paired", 10, 10)])
    taken, far, near = Candidate(0, 1.0, 10, 0, 0.99), Candidate(3, 0.61, 7, 4, 0.02), Candidate(3, 0.99, 7, 1, 0.95)
    lineup = replace(base, candidates=(taken, far), reason="No other offset comes near.")
    assert doubtful_from(lineup) == pytest.approx(RIVAL_SHARE * 0.99)
    assert "+3, agrees on 61 % of states" in verdict(lineup).certainty
    beaten = replace(base, candidates=(taken, near), reason="Offset +3 is refuted.")
    assert verdict(beaten).certainty == "Certain: Offset +3 is refuted."
    by_hand = replace(base, status="by hand", candidates=(taken,), reason="Offset +0 was set by hand. No slip is seen.")
    assert doubtful_from(by_hand) is None
    assert verdict(by_hand).certainty == "Set by hand: nothing vouches for it but you. No slip is seen."


def test_the_worst_signal_stands_first_and_the_clock_does_not_judge() -> None:
    session = bench_comparison()
    counted = tuple(replace(f, compared_cycles=40) for f in session.signals)
    rows = signal_shares(replace(session, signals=counted))
    by_name = {r.name: r for r in rows}
    assert by_name["MCLK"].why_not == "counts the cycles"
    assert "SPARE" not in by_name
    assert (rows[0].name, rows[0].share) == ("D03", 1 - 14 / 40)
    shares = [r.share for r in rows if not r.why_not]
    assert shares == sorted(shares)


def test_agreement_is_counted_over_the_overlap() -> None:
    comparison = bench_comparison()
    here = agreement_at(comparison, 0)
    assert here is not None
    assert here > max(agreement_at(comparison, 1), agreement_at(comparison, -1))
    assert agreement_at(comparison, 10_000) is None


@pytest.mark.parametrize(("text", "at"), [("D00 &&", 6), ("D00 && NOPE", 7), ("(D00", 4), ("D00 $", 4)])
def test_a_condition_that_cannot_be_read_points_at_the_character(text: str, at: int) -> None:
    reading = read_condition(text, bench_comparison())
    assert reading.trouble
    assert reading.at == at
    assert not reading.words


def test_a_condition_is_read_back_and_its_effect_counted() -> None:
    comparison = bench_comparison()
    assert read_condition("!D00 && D01", comparison).words == "D00 is low and D01 is high"
    found = effect("D00", comparison)
    # 0011 over and over: every second of 40 cycles
    assert (found.good, found.suspect, found.of_slips) == (20, 20, 0)
    slipped = replace(comparison, lineup=replace(comparison.lineup, slips=(Slip(2, 2, 0, 2, "missing"),)))
    assert effect("D00", slipped).slips == 1
    assert effect("!D00", slipped).slips == 0


def test_one_offset_is_told_one_way_where_cycles_are_left_out():
    from app.cli.run import demo_request
    from app.comparison_text import offset_words
    from demo_traces import CASES
    from tracecore.comparison import compare

    lineup = compare(replace(demo_request(CASES["waits"]), qualifier="READ == 1")).lineup
    # what the search counted is another number, since it leaves cycles out on both sides
    assert (lineup.offset_cycles, offset_words(lineup)) == (7, "+18 to +53")
    assert not lineup.slips
    assert verdict(lineup).headline == "The suspect’s count moves from +18 to +53, by cycles that are left out."
    assert course_words(lineup) == "from +18 at the start to +53 at the end by cycles left out, no slip"
