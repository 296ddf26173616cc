"""What varies among the known-good captures is not held against the suspect in an ordinary comparison either."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction
from functools import lru_cache
from itertools import permutations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from demo_traces.linnet import SIGNALS
from tests.compare.many_captures import CLOCK, captures, floating, wandering
from tests.plant import Fault, Plant
from tests.strategies import faults
from tests.thinned import thinned
from tracecore.capture import Capture
from tracecore.capture_series import SeriesRequest, read_against, reference
from tracecore.comparison import CompareRequest, Comparison, compare

PLANT = Plant(3, cycles=700, good_rate_hz=Fraction(50_000_000), suspect_rate_hz=Fraction(50_000_000))
GOOD = captures(PLANT, range(5), floating)
SOUND = captures(PLANT, range(30, 33), floating)
STUCK = captures(PLANT, range(40, 41), floating, Fault("stuck low", "D02", since=200))


@lru_cache(16)
def compared(good: tuple[Capture, ...], suspect: tuple[Capture, ...]) -> Comparison:
    return compare(CompareRequest(good, suspect, clock=CLOCK))


def wrong(comparison: Comparison) -> dict[str, list[int]]:
    return {s.signal: s.diverging_cycles.tolist() for s in comparison.signals if s.verdict == "diverges"}


modes = st.sampled_from(["stuck low", "stuck high", "inverted", "one cycle late", "intermittent"])


@settings(max_examples=3)
@given(
    st.integers(1, 50),
    st.sampled_from([None, floating, wandering]),
    st.none() | modes.flatmap(lambda mode: faults(mode, ("D00", "D02", "READ", "WAIT"))),
    st.integers(2, 4),
)
def test_it_says_what_the_series_says(seed, vary, fault, goods):
    plant = replace(PLANT, seed=seed, cycles=500)
    good = captures(plant, range(goods), vary)
    (suspect,) = captures(plant, range(20, 21), vary, fault)
    reading = read_against(reference(SeriesRequest(good, clock=CLOCK)), suspect)
    assert wrong(compared(good, (suspect,))) == {
        signal: own.cycles.tolist() for signal, own in reading.reported.items() if len(own.cycles)
    }


def test_a_bus_that_nobody_drives_is_no_fault_once_good_captures_show_that_it_varies():
    alone = compared(GOOD[:1], SOUND[:1])
    assert set(wrong(alone)) == {"D00", "D01", "D02", "D03"}
    assert alone.tolerance is None
    learnt = compared(GOOD, SOUND[:1])
    assert not wrong(learnt)
    assert not learnt.causes
    assert not learnt.diverges
    off = learnt.signal("D00").let_off_cycles.tolist()
    assert off == wrong(alone)["D00"]
    assert "D00 varies among the known-good captures" in " ".join(learnt.tolerance.described())


def test_what_is_let_off_is_neither_hatched_nor_drawn_as_a_missing_or_extra_transition():
    learnt = compared(GOOD, SOUND[:1])
    finding = learnt.signal("D00")
    assert len(finding.let_off_cycles) > 20
    assert not len(finding.difference_on_good_ps)
    ties = finding.ties
    assert not len(ties.missing_ps)
    assert not len(ties.extra_on_good_ps)
    assert not len(ties.moved_good_ps)
    assert (finding.missing_transitions, finding.extra_transitions) == (0, 0)


def test_a_stuck_bit_of_that_bus_is_found_all_the_same_and_comes_first():
    (suspect,) = STUCK
    learnt = compared(GOOD, (suspect,))
    assert set(wrong(learnt)) == {"D02"}
    assert learnt.causes[0].signal == "D02"
    first = learnt.signal("D02").first_divergence
    assert first is not None
    assert 200 <= first.cycle < 215
    edges = learnt.lineup.good_edges_ps
    assert edges[first.cycle] <= first.good_ps < edges[first.cycle + 1]
    off = learnt.signal("D02").let_off_cycles
    assert len(off)
    assert not np.isin(off, learnt.signal("D02").diverging_cycles).any()


def test_the_other_suspect_captures_are_judged_in_the_same_way():
    found = compared(GOOD, (*SOUND, *STUCK))
    assert [sorted(c.diverges) for c in found.captures] == [[], [], [], ["D02"]]
    assert found.causes[0].capture == STUCK[0].name
    assert dict(found.causes[0].readings)["Seen in"].startswith("1 of 4")


@settings(max_examples=2)
@given(
    st.integers(1, 50),
    st.sampled_from([None, floating, wandering]),
    st.none() | modes.flatmap(lambda mode: faults(mode, ("D00", "D02", "READ", "WAIT"))),
    st.permutations(range(1, 4)),
)
def test_neither_the_reference_twice_nor_the_order_of_the_others_changes_a_verdict(seed, vary, fault, order):
    plant = replace(PLANT, seed=seed, cycles=400)
    good = captures(plant, range(4), vary)
    (suspect,) = captures(plant, range(20, 21), vary, fault)
    plain = wrong(compared(good[:1], (suspect,)))
    assert wrong(compared((good[0], replace(good[0], name="again")), (suspect,))) == plain
    assert wrong(compared((good[0], *(good[i] for i in order)), (suspect,))) == wrong(compared(good, (suspect,)))


@pytest.mark.parametrize("suspect", [SOUND[0], STUCK[0]], ids=["sound", "stuck"])
def test_one_more_good_capture_accuses_nothing_more(suspect):
    few, more = compared(GOOD[:3], (suspect,)), compared(GOOD[:4], (suspect,))
    assert set(wrong(more)) <= set(wrong(few))


def test_the_order_of_the_good_captures_behind_the_first_does_not_matter():
    first, *others = GOOD[:4]
    found = [wrong(compared((first, *order), STUCK)) for order in list(permutations(others))[::2]]
    assert all(one == found[0] for one in found)


def test_a_good_capture_that_is_out_of_place_is_named():
    (odd,) = captures(PLANT, range(50, 51), floating, Fault("inverted", "SEQ1"))
    notices = compared((*GOOD[:3], odd), SOUND[:1]).notices
    assert any(odd.name in n.text and n.code == "good_capture_odd" for n in notices)


ODD = [("stuck low", "D02"), ("stuck high", "READ"), ("inverted", "SEQ1"), ("intermittent", "WAIT")]


@pytest.mark.parametrize("vary", [None, floating])
@pytest.mark.parametrize(("mode", "signal"), thinned(ODD))
def test_a_fault_that_one_good_capture_shows_too_is_not_hidden(mode, signal, vary):
    fault = Fault(mode, signal, since=150, share=0.5 if mode == "intermittent" else 1.0)
    good = captures(PLANT, range(4), vary)
    (bad,) = captures(PLANT, range(60, 61), vary, fault)
    (suspect,) = captures(PLANT, range(70, 71), vary, fault)
    found = compared((*good, bad), (suspect,))
    assert signal in wrong(found)
    assert found.causes[0].signal == signal
    assert found.tolerance is not None
    (odd,) = found.tolerance.odd
    assert (odd.name, odd.whole) == (bad.name, True)
    assert signal in odd.signals


def test_of_three_good_captures_the_odd_one_is_told_and_teaches_nothing():
    fault = Fault("stuck high", "READ", since=150)
    good = captures(PLANT, range(2))
    (bad,), (suspect,) = (captures(PLANT, range(at, at + 1), None, fault) for at in (60, 70))
    found = compared((good[0], bad, good[1]), (suspect,))
    assert set(wrong(found)) == {"READ"}
    assert found.causes[0].signal == "READ"
    assert not any("known-good captures too" in sentence for sentence in found.causes[0].because)
    assert any(bad.name in n.text and "READ" in n.text for n in found.notices)
    assert found.tolerance is not None
    assert found.tolerance.captures == 2


def test_a_fault_in_a_single_place_that_one_good_capture_shows_too_is_not_hidden():
    """Too few places to call the whole capture odd, but nothing else varies on the signal."""
    good = captures(PLANT, range(4))

    def once(levels, cycles, rng):
        out = levels.copy()
        out[SIGNALS.index("WAIT"), (cycles >= 300) & (cycles < 304)] ^= 1
        return out

    bad, suspect = (captures(PLANT, range(at, at + 1), once)[0] for at in (60, 70))
    found = compared((*good, bad), (suspect,))
    assert set(wrong(found)) == {"WAIT"}
    assert found.tolerance is not None
    (odd,) = found.tolerance.odd
    assert (odd.signals, odd.whole) == (("WAIT",), False)
    assert found.tolerance.captures == 5


def test_two_good_captures_that_disagree_are_told_and_neither_teaches():
    fault = Fault("stuck low", "D02", since=150)
    (bad,), (suspect,) = (captures(PLANT, range(at, at + 1), None, fault) for at in (60, 70))
    (good,) = captures(PLANT, range(1))
    for pair in ((good, bad), (bad, good)):
        found = compared(pair, (suspect,))
        assert any(good.name in n.text and bad.name in n.text and "either teaches" in n.sentence for n in found.notices)
    assert set(wrong(compared((good, bad), (suspect,)))) == {"D02"}


def test_a_late_signal_that_one_good_capture_shows_too_is_not_hidden():
    late = Fault("late", "D02", by_ps=150_000)
    good = captures(PLANT, range(4))
    bad, suspect = (replace(PLANT, seed=seed).faulty(late).suspect for seed in (3, 3))
    found = compared((*good, replace(bad, name="bad").capture()), (suspect.capture(),))
    assert "D02" in wrong(found)


@pytest.mark.parametrize("vary", [None, floating, wandering])
def test_no_sound_capture_is_called_odd_as_a_whole(vary):
    for seed in range(2):
        found = compared(captures(replace(PLANT, seed=seed + 1, cycles=400), range(4), vary), SOUND[:1])
        assert found.tolerance is None or not any(own.whole for own in found.tolerance.odd)


def test_a_sound_suspect_is_not_cleared_by_good_captures_that_disagree():
    fault = Fault("stuck low", "D02", since=150)
    (bad,), (sound,) = captures(PLANT, range(60, 61), None, fault), captures(PLANT, range(70, 71))
    good = captures(PLANT, range(3))
    assert compared((good[0], bad), (sound,)).outcome.word == "cannot tell"
    assert compared((good[0], bad, *good[1:]), (sound,)).outcome.word == "agrees"


@pytest.mark.parametrize(
    ("place", "vary"), thinned([(0, floating), (1, None), (0, None), (3, floating), (3, None), (1, floating)], 4)
)
def test_an_odd_good_capture_changes_no_answer_wherever_it_stands(place, vary):
    """As the reference it would accuse a sound suspect, and clear one that is bad in the same way."""
    fault = Fault("stuck low", "D02", since=150)
    (bad,), (sound,) = captures(PLANT, range(60, 61), vary, fault), captures(PLANT, range(70, 71), vary)
    (alike,) = captures(PLANT, range(71, 72), vary, fault)
    good = list(captures(PLANT, range(3), vary))
    good.insert(place, bad)
    cleared, accused = compared(tuple(good), (sound,)), compared(tuple(good), (alike,))
    assert (cleared.outcome.word, accused.outcome.word) == ("agrees", "diverges")
    assert set(wrong(accused)) == {"D02"}
    assert {bad.name in n.text for n in cleared.notices if n.code == "good_capture_odd"} == {True}
    replaced = [n.text for n in cleared.notices if n.code == "reference_replaced"]
    assert len(replaced) == (place == 0)
    assert cleared.request.good[0] is (good[1] if place == 0 else good[0])
    series = reference(SeriesRequest(tuple(good), clock=CLOCK))
    for suspect, found in ((sound, cleared), (alike, accused)):
        reading = read_against(series, suspect)
        assert wrong(found) == {s: own.cycles.tolist() for s, own in reading.reported.items() if len(own.cycles)}
        assert reading.outcome.word == found.outcome.word
    assert ["reference_replaced" in {n.code for n in series.notices}] == [place == 0]


def test_an_offset_set_by_hand_holds_for_the_reference_that_takes_the_odd_one_s_place():
    fault = Fault("stuck low", "D02", since=150)
    bad = PLANT.again(60, fault=fault, offset_cycles=9).capture()
    good = [PLANT.again(run, offset_cycles=4 * run).capture() for run in range(3)]
    sound = PLANT.again(70, offset_cycles=2).capture()
    found = compare(CompareRequest((bad, *good), (sound,), clock=CLOCK, offset=2 - 9))
    assert found.lineup.offset_cycles == found.request.offset == 2
    assert found.outcome.word == "agrees"


def test_where_every_good_capture_stands_alone_none_takes_the_first_one_s_place():
    odd = [
        captures(PLANT, range(60 + i, 61 + i), None, Fault("stuck low", s)) for i, s in enumerate(("D00", "D01", "D02"))
    ]
    found = compared(tuple(own for (own,) in odd), SOUND[:1])
    assert "reference_odd" in {n.code for n in found.notices}
    assert found.outcome.word != "agrees"
