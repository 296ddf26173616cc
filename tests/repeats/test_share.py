"""Shares of captures: the bounds at their ends, how many more captures settle a question, and what is said."""

from __future__ import annotations

import doctest
import importlib
from math import isclose

import pytest
import scipy
from hypothesis import given
from hypothesis import strategies as st

from tracecore.repeats.share import (
    captures_to_see_once,
    more_to_show_under,
    percent_up,
    proof,
    proof_sentence,
    rule_of_three,
    share_of,
    upper_bound,
)

counts = st.integers(0, 400).flatmap(lambda n: st.tuples(st.integers(0, n), st.just(n)))
some = counts.filter(lambda pair: pair[1] > 0)
rates = st.floats(0.002, 0.99)


@pytest.mark.parametrize("module", ["share", "table"])
def test_the_examples_in_the_docstrings_hold(module):
    found = doctest.testmod(importlib.import_module(f"tracecore.repeats.{module}"))
    assert found.attempted
    assert not found.failed


@given(some)
def test_the_interval_holds_the_share_and_its_ends_are_exact(pair):
    diverging, captures = pair
    found = share_of(diverging, captures)
    assert found.low <= found.share <= found.high
    assert (found.low == 0) == (diverging == 0)
    assert (found.high == 1) == (diverging == captures)


def test_the_interval_is_wilsons():
    """E. B. Wilson, Probable inference, JASA 22 (1927), as ``scipy.stats`` works it out."""
    for captures in (1, 2, 7, 40, 333):
        for diverging in range(captures + 1):
            found = share_of(diverging, captures)
            expected = scipy.stats.binomtest(diverging, captures).proportion_ci(0.95, method="wilson")
            assert isclose(found.low, expected.low, abs_tol=1e-12)
            assert isclose(found.high, expected.high, abs_tol=1e-12)


@given(counts)
def test_agreeing_and_diverging_are_mirrored(pair):
    diverging, captures = pair
    a, b = share_of(diverging, captures), share_of(captures - diverging, captures)
    if captures:
        assert isclose(a.low, 1 - b.high, abs_tol=1e-12)
        assert isclose(a.high, 1 - b.low, abs_tol=1e-12)


def test_no_capture_tells_nothing():
    found = share_of(0, 0)
    assert (found.low, found.high, found.share) == (0, 1, None)
    assert found.sentence == "no capture yet"
    assert upper_bound(0, 0) == 1
    assert proof_sentence(0, 0) == "No capture counts yet, so nothing is shown."
    with pytest.raises(ValueError, match="at least one"):
        rule_of_three(0)


@pytest.mark.parametrize("pair", [(-1, 4), (5, 4), (0, -1)])
def test_counts_that_cannot_be_are_refused(pair):
    for ask in (share_of, upper_bound, proof, proof_sentence):
        with pytest.raises(ValueError, match="between 0 and the whole"):
            ask(*pair)


@given(some)
def test_the_bound_falls_with_every_clean_capture_and_rises_with_every_diverging_one(pair):
    diverging, captures = pair
    bound = upper_bound(diverging, captures)
    assert diverging / captures < bound or diverging == captures
    assert upper_bound(diverging, captures + 1) < bound or bound == 1
    assert upper_bound(diverging + 1, captures + 1) > bound or bound == 1


@given(st.integers(1, 5000))
def test_the_rule_of_three_errs_on_the_careful_side_and_little(captures):
    exact = upper_bound(0, captures)
    assert exact <= rule_of_three(captures)
    assert captures < 30 or rule_of_three(captures) < 1.06 * exact


@given(rates)
def test_one_capture_fewer_would_not_be_enough_to_see_it_once(rate):
    count = captures_to_see_once(rate)
    assert 1 - (1 - rate) ** count >= 0.95 - 1e-12
    assert count == 1 or 1 - (1 - rate) ** (count - 1) < 0.95


@given(rates, some)
def test_one_capture_fewer_would_not_be_enough_to_show_it(rate, pair):
    diverging, captures = pair
    more = more_to_show_under(rate, diverging, captures)
    assert upper_bound(diverging, captures + more) <= rate + 1e-9
    assert more == 0 or upper_bound(diverging, captures + more - 1) > rate - 1e-9


@pytest.mark.parametrize("rate", [0, -0.1, 1.1])
def test_a_rate_that_cannot_be_is_refused(rate):
    with pytest.raises(ValueError, match="rate"):
        captures_to_see_once(rate)
    with pytest.raises(ValueError, match="rate"):
        more_to_show_under(rate, 0, 1)


def test_the_proof_is_said_with_its_numbers():
    found = proof(0, 300)
    assert found.sentence == "0 of 300 captures diverge; with 95 % confidence fewer than 1.0 % would."
    assert found.upper_share == pytest.approx(0.0099361, abs=1e-7)
    assert (found.diverging, found.captures, found.confidence, found.rule_of_three) == (0, 300, 0.95, 0.01)
    assert proof(3, 300).rule_of_three is None
    assert proof(4, 4).sentence == "4 of 4 captures diverge; that sets no upper limit."
    assert proof_sentence(0, 1) == "0 of 1 capture diverges; with 95 % confidence fewer than 95 % would."


def test_captures_that_could_not_be_compared_are_told_and_not_counted():
    assert proof(0, 300, uncounted=2).sentence.endswith("Of 2 more it cannot be told, so they do not count.")
    assert proof(0, 300, uncounted=1).sentence.endswith("Of 1 more it cannot be told, so it does not count.")
    assert proof(0, 300, uncounted=2).upper_share == proof(0, 300).upper_share
    with pytest.raises(ValueError, match="negative"):
        proof(0, 300, uncounted=-1)


@given(counts)
def test_a_proof_never_claims_too_much(pair):
    text = proof(*pair).sentence
    for word in ("fixed", "repaired", "cured", "safe"):
        assert word not in text.lower()


@given(st.floats(1e-7, 1))
def test_a_percentage_is_rounded_up_and_by_less_than_a_tenth(share):
    shown = float(percent_up(share).removesuffix(" %"))
    assert 100 * share <= shown + 1e-6
    assert shown <= 100 * share * 1.1 + 1e-6
