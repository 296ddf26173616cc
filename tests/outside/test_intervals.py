"""Shares and bounds against what this project did not make: scipy.stats, closed forms, and a published comparison.

R. G. Newcombe, "Two-sided confidence intervals for the single proportion: comparison of seven methods", Statistics in
Medicine 17 (1998) 857-872, prints four worked examples. They are given here from memory; Wilson's formula, written out
below, gives the same four digits, and so does scipy.
"""

from __future__ import annotations

from math import comb, sqrt

import pytest
import scipy
from hypothesis import given
from hypothesis import strategies as st

from tracecore.repeats.share import captures_to_see_once, more_to_show_under, share_of, upper_bound
from tracecore.repeats.table import CaptureOutcome, table_of

# Newcombe 1998, score method without continuity correction; from memory, and recomputed below
NEWCOMBE = [(81, 263, 0.2553, 0.3662), (15, 148, 0.0624, 0.1605), (0, 20, 0.0, 0.1611), (1, 29, 0.0061, 0.1718)]

counts = st.integers(1, 300).flatmap(lambda n: st.tuples(st.integers(0, n), st.just(n)))


def score_interval(k: int, n: int) -> tuple[float, float]:
    """Both roots p of (k/n - p)^2 = z^2 p (1 - p) / n, the definition of the interval."""
    z = float(scipy.stats.norm.ppf(0.975))
    a, b, c = 1 + z * z / n, -(2 * k / n + z * z / n), (k / n) ** 2
    root = sqrt(max(0.0, b * b - 4 * a * c))
    return (-b - root) / (2 * a), (-b + root) / (2 * a)


@pytest.mark.parametrize(("k", "n", "low", "high"), NEWCOMBE)
def test_worked_examples_of_1998(k, n, low, high):
    found = share_of(k, n)
    assert (found.low, found.high) == pytest.approx((low, high), abs=5e-5)
    assert score_interval(k, n) == pytest.approx((low, high), abs=5e-5)


@given(counts)
def test_the_interval_solves_its_own_equation(pair):
    found = share_of(*pair)
    assert (found.low, found.high) == pytest.approx(score_interval(*pair), abs=1e-9)


@given(counts)
def test_the_upper_bound_is_the_quantile_of_a_beta_distribution(pair):
    # Clopper and Pearson 1934: the 95 % point of beta(k + 1, n - k)
    k, n = pair
    expected = 1.0 if k == n else float(scipy.stats.beta.ppf(0.95, k + 1, n - k))
    assert upper_bound(k, n) == pytest.approx(expected, abs=1e-9)


@given(counts.filter(lambda pair: pair[0] < pair[1]))
def test_at_the_bound_so_few_come_up_one_time_in_twenty(pair):
    k, n = pair
    p = upper_bound(k, n)
    plain = sum(comb(n, i) * p**i * (1 - p) ** (n - i) for i in range(k + 1))
    assert plain == pytest.approx(0.05, abs=1e-6)


def test_well_known_numbers_of_clean_captures():
    # common practice in acceptance sampling: 59 for 5 %, 299 for 1 %, 2995 for 0.1 %; with one failure 93 and 473
    assert [captures_to_see_once(p) for p in (0.05, 0.01, 0.001)] == [59, 299, 2995]
    assert [more_to_show_under(p, 1, 1) + 1 for p in (0.05, 0.01)] == [93, 473]


@pytest.mark.parametrize("captures", [3, 5, 10, 20, 50])
@pytest.mark.parametrize("rate", [0.02, 0.1, 0.3, 0.5, 0.9])
def test_the_interval_covers_the_truth_nearly_as_often_as_it_says(captures, rate):
    """Coverage worked out exactly, by summing over every count that can come up; simulations gave 0.91 to 1.00."""
    intervals = [share_of(k, captures) for k in range(captures + 1)]
    covered = sum(
        float(scipy.stats.binom.pmf(s.diverging, captures, rate)) for s in intervals if s.low <= rate <= s.high
    )
    assert covered > 0.9


@pytest.mark.parametrize("captures", [1, 5, 20, 300])
@pytest.mark.parametrize("rate", [0.001, 0.01, 0.2, 0.7])
def test_the_upper_bound_lies_above_the_truth_at_least_as_often_as_it_says(captures, rate):
    covered = sum(
        float(scipy.stats.binom.pmf(k, captures, rate)) for k in range(captures + 1) if upper_bound(k, captures) >= rate
    )
    assert covered >= 0.95


@pytest.mark.parametrize(("before", "after"), [(1, 0), (4, 1), (5, 4), (6, 0), (9, 1), (40, 21)])
def test_who_is_first_is_judged_by_the_exact_sign_test(before, after):
    both = frozenset("AB")
    said = table_of(CaptureOutcome(str(i), both, "A" if i < before else "B", i, both) for i in range(before + after))
    assert said.first_verdict().p_value == pytest.approx(float(scipy.stats.binomtest(before, before + after).pvalue))
