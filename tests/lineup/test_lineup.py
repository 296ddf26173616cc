"""The offset between two captures: found, refused, and mapped, against brute force and by its laws."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction
from itertools import pairwise
from typing import get_args

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from app.comparison_text import LINEUP_WORDS
from demo_traces.linnet import SIGNALS
from tests.lineup.slipping import slipping_pair
from tests.plant import CLOCK, Plant
from tracecore.capture import UNKNOWN, Capture
from tracecore.comparison import CompareRequest, compare
from tracecore.lineup import follower
from tracecore.lineup.explained import Explained
from tracecore.lineup.lineup import Lineup, Status, TimeMap, find_lineup
from tracecore.lineup.offset import telling
from tracecore.lineup.rivals import Choice
from tracecore.measure.clock import active_edges_ps, cycle_states

PERIOD = 400_000


def lined_up(good: np.ndarray, suspect: np.ndarray, offset: int | None = None) -> Lineup:
    edges = [np.arange(s.shape[1] + 1, dtype=np.int64) * PERIOD for s in (good, suspect)]
    names = tuple(f"S{i}" for i in range(len(good)))
    return find_lineup("CLK", "rising", *edges, good, suspect, names, offset)


def machine(signals: int, cycles: int, seed: int) -> np.ndarray:
    rng = np.random.default_rng(seed)
    rate = rng.uniform(0.05, 0.6, signals)
    return (np.cumsum(rng.random((signals, cycles)) < rate[:, None], axis=1) % 2).astype(np.uint8)


@settings(max_examples=10)
@given(st.integers(0, 10_000), st.integers(-90, 90), st.integers(2, 14), st.sampled_from([200, 1000, 3000]))
def test_the_offset_is_found_wherever_it_lies(seed, offset, signals, cycles):
    whole = machine(signals, cycles + 200, seed)
    good, suspect = whole[:, 100 : 100 + cycles], whole[:, 100 - offset : 100 - offset + cycles]
    found = lined_up(good, suspect)
    assert found.offset_cycles == offset
    run = found.runs[0]
    assert (
        good[:, run.good_start : run.good_start + run.length]
        == suspect[:, run.suspect_start : run.suspect_start + run.length]
    ).all()


@pytest.mark.parametrize("fault", ["stuck", "noisy", "inverted", "unknown", "late half wrong"])
@pytest.mark.parametrize("cycles", [300, 5000, pytest.param(300_000, marks=pytest.mark.long)])
def test_a_faulty_signal_does_not_spoil_the_offset(fault, cycles):
    whole = machine(8, cycles + 60, 5)
    good, suspect = whole[:, 30 : 30 + cycles], whole[:, 13 : 13 + cycles].copy()
    rng = np.random.default_rng(0)
    if fault == "stuck":
        suspect[2] = 0
    elif fault == "noisy":
        suspect[2:4] = rng.integers(0, 2, (2, cycles))
    elif fault == "inverted":
        suspect[2] ^= 1
    elif fault == "unknown":
        suspect[2] = UNKNOWN
        suspect[:, rng.random(cycles) < 0.1] = UNKNOWN
    else:
        suspect[:, cycles // 2 :] = rng.integers(0, 2, (8, cycles - cycles // 2))
    found = lined_up(good, suspect)
    assert found.offset_cycles == 17
    assert found.status in ("unique", "differs")


def test_swapping_the_sides_turns_the_sign():
    whole = machine(6, 1200, 9)
    assert lined_up(whole[:, 50:1050], whole[:, 30:1030]).offset_cycles == 20
    assert lined_up(whole[:, 30:1030], whole[:, 50:1050]).offset_cycles == -20


def test_a_capture_lines_up_with_itself_at_nought_and_certainly():
    good = machine(6, 900, 4)
    found = lined_up(good, good)
    assert (found.offset_cycles, found.status) == (0, "unique")
    assert found.confidence > 0.95


def test_a_repeating_sequence_is_said_to_be_ambiguous_with_its_period():
    good = np.tile(machine(6, 97, 4), (1, 12))
    found = lined_up(good, good)
    assert found.status == "ambiguous"
    assert found.offset_cycles == 0
    assert "97 cycles apart" in found.reason
    assert found.confidence < 0.1


def test_only_one_signal_tells_two_offsets_apart():
    good = np.tile(machine(6, 97, 4), (1, 12))
    good = np.vstack((good, machine(1, good.shape[1], 8)))
    found = lined_up(good[:, 20:], good[:, :-20])
    assert found.offset_cycles == 20
    assert found.status == "weak"
    assert "S6" in found.reason


def test_a_sequence_that_repeats_but_for_a_stretch_is_lined_up_by_that_stretch():
    good = np.tile(machine(6, 1500, 4), (1, 4))
    good[:, 1000:1200] = machine(6, 200, 9)
    found = lined_up(good[:, 40:], good[:, :-40])
    assert (found.offset_cycles, found.status) == (40, "unique")
    # the repeats explain no more than the first turn, up to the stretch
    assert found.candidates[1].offset_cycles % 1500 == 40
    assert found.candidates[1].fit < 0.5
    assert found.confidence > 0.9


def test_an_offset_is_no_rival_where_it_differs_and_the_one_taken_agrees():
    good = np.tile(machine(6, 300, 4), (1, 20))
    good[:, 5000:5030] = machine(6, 30, 9)
    found = lined_up(good[:, 40:], good[:, :-40])
    assert (found.offset_cycles, found.rivals) == (40, ())
    assert "on many signals at once it differs around good cycle" in found.reason


def test_what_the_right_offset_alone_reaches_does_not_speak_against_it():
    """The other offset leaves the bad stretch out and fits without a flaw: it is not believed for that."""
    whole = np.tile(machine(6, 1500, 4), (1, 2))
    good, suspect = whole[:, :2200], whole[:, 750:2950].copy()
    suspect[:, :100] = machine(6, 100, 9)
    found = lined_up(good, suspect)
    assert found.status != "unique"


@pytest.mark.parametrize("cycles", [100, 4000, pytest.param(300_000, marks=pytest.mark.long)])
def test_unrelated_captures_do_not_line_up(cycles):
    rng = np.random.default_rng(1)
    found = lined_up(*rng.integers(0, 2, (2, 8, cycles)).astype(np.uint8))
    assert not found
    assert found.status == "none"
    assert "No offset" in found.reason


@pytest.mark.parametrize("cycles", [0, 1, 7])
def test_too_few_cycles_is_a_reason_and_no_error(cycles):
    few = machine(4, cycles, 1) if cycles else np.empty((4, 0), np.uint8)
    found = lined_up(few, machine(4, 500, 1))
    assert not found
    assert "whole cycles" in found.reason


def test_nothing_that_moves_tells_nothing():
    still = np.zeros((4, 300), np.uint8)
    assert not lined_up(still, still)
    by_hand = lined_up(still, still, offset=5)
    assert by_hand.status == "by hand"
    assert by_hand.runs[0].length == 295


@given(st.integers(-400, 400))
def test_a_hand_set_offset_tiles_what_both_sides_have(offset):
    good, suspect = machine(3, 300, 1), machine(3, 280, 2)
    found = lined_up(good, suspect, offset)
    overlap = sum(0 <= k + offset < 280 for k in range(300))
    assert sum(r.length for r in found.runs) == overlap
    assert all(r.suspect_start - r.good_start == offset for r in found.runs)


@given(st.lists(st.integers(-2 * PERIOD, 40 * PERIOD), max_size=30).map(sorted), st.integers(-5, 5))
def test_carrying_times_over_keeps_their_order_and_the_clock_edges(times, offset):
    good, suspect = machine(4, 30, 1), machine(4, 30, 2)
    edges = np.cumsum(np.full(31, PERIOD)) + np.arange(31) % 3 * 1000
    found = find_lineup("CLK", "rising", edges - 7, edges + 13, good, suspect, tuple("ABCD"), offset)
    carried = TimeMap(found).to_good_ps(np.array(times, np.int64))
    assert (np.diff(carried) >= 0).all()
    run = found.runs[0]
    on_edges = TimeMap(found).to_good_ps(found.suspect_edges_ps[run.suspect_start : run.suspect_start + run.length])
    assert (on_edges == found.good_edges_ps[run.good_start : run.good_start + run.length]).all()


def test_drift_is_the_ratio_of_the_clocks():
    good = machine(4, 400, 1)
    edges = np.arange(401, dtype=np.int64) * 1_000_000
    found = find_lineup("CLK", "rising", edges, edges * 1002 // 1000, good, good, tuple("ABCD"))
    assert found.drift_ppm == pytest.approx(2000, abs=1)


def spans(found: Lineup) -> tuple[list[tuple[int, int]], list[tuple[int, int]]]:
    """What runs and slips take of each side, as (first, stop), sorted."""
    good = [(r.good_start, r.good_start + r.length) for r in found.runs]
    suspect = [(r.suspect_start, r.suspect_start + r.length) for r in found.runs]
    good += [(s.good_cycle, s.good_cycle + s.missing) for s in found.slips if s.missing]
    suspect += [(s.suspect_cycle, s.suspect_cycle + s.inserted) for s in found.slips if s.inserted]
    return sorted(good), sorted(suspect)


@settings(max_examples=12)
@given(
    st.integers(1, 5000),
    st.integers(-60, 60),
    st.dictionaries(st.integers(150, 1350), st.integers(1, 6), max_size=4),
    st.dictionaries(st.integers(150, 1350), st.integers(1, 6), max_size=4),
)
def test_runs_slips_and_ends_tile_both_captures(seed, offset, inserted, missing):
    plant = Plant(seed, cycles=1500, offset_cycles=0, good_rate_hz=Fraction(10**8), suspect_rate_hz=Fraction(10**8))
    pair = slipping_pair(plant, inserted, missing)
    sides = [states_of(side.capture()) for side in (pair.good, pair.suspect)]
    cut = [sides[0][:, max(0, offset) :], sides[1][:, max(0, -offset) :]]
    found = lined_up(*cut)
    assert found
    for taken, side in zip(spans(found), cut, strict=True):
        assert all(a[1] == b[0] for a, b in pairwise(taken))
        # what is left lies before the first or behind the last, on one side alone
        assert taken[0][0] >= 0
        assert taken[-1][1] <= side.shape[1]
    assert 0 in (spans(found)[0][0][0], spans(found)[1][0][0])
    assert spans(found)[0][-1][1] == cut[0].shape[1] or spans(found)[1][-1][1] == cut[1].shape[1]


def states_of(capture: Capture) -> np.ndarray:
    edges = active_edges_ps(capture.digital[CLOCK], "rising")
    rows = [cycle_states(t, edges, capture.resolution_ps) for n, t in capture.digital.items() if n != CLOCK]
    return np.array(rows, np.uint8)


FAST = {"good_rate_hz": Fraction(10**8), "suspect_rate_hz": Fraction(10**8)}


def test_wait_states_are_slips_and_no_differences():
    plant = Plant(3, cycles=3000, drift_ppm=800, **FAST)
    pair = slipping_pair(plant, {330: 1, 900: 3}, {770: 2})
    found = compare(CompareRequest((pair.good.capture(),), (pair.suspect.capture(),), pair.sheet, clock=CLOCK))
    assert [(s.kind, s.good_cycle, s.inserted, s.missing) for s in found.lineup.slips] == [
        ("inserted", 330, 1, 0),
        ("missing", 770, 0, 2),
        ("inserted", 900, 3, 0),
    ]
    assert found.lineup.status == "unique"
    assert "3 slips followed, first at good cycle 330: 4 cycles inserted, 2 missing" in found.lineup.reason
    assert {f.verdict for f in found.signals} == {"agrees"}


def test_slips_in_a_row_stand_where_the_fewest_states_differ():
    """Waits so near to one another that WAIT itself does not judge: it is asked all the same where they begin."""
    inserted = {150: 4, 230: 2, 350: 1, 390: 3}
    rates = {"good_rate_hz": Fraction(25_000_000), "suspect_rate_hz": Fraction(200_000_000)}
    pair = slipping_pair(Plant(903081, cycles=3000, offset_cycles=-29, **rates), inserted, {})
    found = compare(CompareRequest((pair.good.capture(),), (pair.suspect.capture(),), pair.sheet, clock=CLOCK))
    assert {s.good_cycle: s.inserted for s in found.lineup.slips} == inserted
    assert {f.verdict for f in found.signals} == {"agrees"}


def test_a_state_read_while_it_moves_tells_where_a_slip_stands():
    """By the decided states alone the third of three waits may be the one that is more, or the first."""
    inserted = {190: 1, 230: 1, 350: 1, 390: 3}
    rates = {"good_rate_hz": Fraction(32_000_000), "suspect_rate_hz": Fraction(24_000_000)}
    pair = slipping_pair(Plant(557977, cycles=3000, offset_cycles=-28, **rates), inserted, {})
    found = compare(CompareRequest((pair.good.capture(),), (pair.suspect.capture(),), pair.sheet, clock=CLOCK))
    assert {s.good_cycle: s.inserted for s in found.lineup.slips} == inserted
    assert {f.verdict for f in found.signals} == {"agrees"}


@pytest.mark.parametrize("signal", ["D01", "SEQ1", "READ"])
def test_a_fault_among_slips_is_found_at_its_own_cycle(signal):
    row = SIGNALS.index(signal)

    def stuck(levels: np.ndarray) -> np.ndarray:
        out = levels.copy()
        out[row, 1500:] = 0
        return out

    pair = slipping_pair(Plant(3, cycles=3000, **FAST), {330: 1, 900: 3, 2200: 2}, {770: 2}, stuck)
    found = compare(CompareRequest((pair.good.capture(),), (pair.suspect.capture(),), pair.sheet, clock=CLOCK))
    assert len(found.lineup.slips) == 4
    (cause,) = found.causes
    assert (cause.signal, cause.fault_mode) == (signal, "stuck low")
    # 9 suspect cycles ahead at the start, four more and two fewer by then, and two rows of padding
    assert 1480 < cause.since_cycle < 1520


def test_machines_that_part_for_good_show_which_signal_parts_first():
    whole = machine(12, 6000, 5)
    suspect = whole.copy()
    suspect[:, 3000:] = machine(12, 3000, 6)
    found = lined_up(whole, suspect)
    (slip,) = found.slips
    assert slip.kind == "diverged"
    assert 3000 <= found.parts_at <= 3032
    assert "do different things" in found.reason
    # the cycles in which they part are matched still, or nothing would tell what parted first
    last = found.runs[-1]
    assert last.good_start + last.length == found.parts_at
    assert (whole[:, 3000 : found.parts_at] != suspect[:, 3000 : found.parts_at]).any()


def test_with_many_slips_no_one_offset_is_needed():
    rng = np.random.default_rng(3)
    whole = machine(16, 60_000, 5)
    waits = np.where(rng.random(60_000) < 2e-3, rng.integers(1, 5, 60_000), 0)
    source = np.repeat(np.arange(60_000), 1 + waits)
    found = lined_up(whole, whole[:, source])
    assert found.status == "unique"
    assert found.matched_cycles > 59_900
    assert sum(s.inserted for s in found.slips) + found.matched_cycles == pytest.approx(len(source), abs=64)


def test_stretches_alone_that_agree_are_told_as_such():
    whole, other = machine(16, 30_000, 5), machine(16, 30_000, 6)
    suspect = other.copy()
    suspect[:, 4000:7000] = whole[:, 21_000:24_000]
    found = lined_up(whole, suspect)
    assert found.status == "local"
    assert found.offset_cycles == -17_000
    assert found.confidence < 0.3
    assert "stretches" in found.reason


def test_every_status_has_a_word():
    assert set(get_args(Status)) == set(LINEUP_WORDS)


@pytest.mark.parametrize("period", [2, 3, 10, 31])
def test_a_short_period_is_ambiguous_by_a_multiple_of_it(period):
    pattern = machine(6, period, 4)
    pattern[0] = np.arange(period) == 0
    good = np.tile(pattern, (1, 1 + 900 // period))[:, :900]
    found = lined_up(good[:, :800], good[:, 50:850])
    assert found.status == "ambiguous"
    assert (found.offset_cycles + 50) % period == 0
    assert "known only modulo" in found.reason
    assert found.slips == ()


def test_one_signal_alone_is_enough_to_line_up():
    whole = machine(1, 3000, 6)
    found = lined_up(whole[:, 40:2000], whole[:, :1900])
    assert found.offset_cycles == 40
    assert found.slips == ()


@pytest.mark.parametrize("offset", [-700, 700])
def test_a_short_overlap_is_partial(offset):
    whole = machine(10, 2600, 6)
    good, suspect = whole[:, 800:1700], whole[:, 800 - offset : 1700 - offset]
    found = lined_up(good, suspect)
    assert found.offset_cycles == offset
    assert found.status == "partial"
    assert "share only 200 cycles" in found.reason


def test_all_signals_of_the_suspect_stuck_is_no_line_up():
    whole = machine(6, 900, 6)
    found = lined_up(whole, np.zeros_like(whole))
    assert found.status == "none"
    assert "No signal" in found.reason


@pytest.mark.parametrize("cycles", [5000, pytest.param(300_000, marks=pytest.mark.long)])
def test_another_program_on_half_of_the_signals_is_doubted(cycles):
    good, other = machine(12, cycles, 5), machine(12, cycles, 6)
    found = lined_up(good, np.vstack((good[:7], other[7:])))
    assert found.offset_cycles == 0
    assert found.status == "differs"
    assert "5 of 12 signals disagree" in found.reason


@settings(max_examples=10)
@given(
    st.integers(1, 1000), st.integers(-80, 80), st.dictionaries(st.integers(200, 800), st.integers(1, 4), max_size=2)
)
def test_exchanging_the_sides_exchanges_runs_and_slips(seed, offset, inserted):
    whole = machine(12, 1200, seed)
    late = np.repeat(whole, [1 + inserted.get(k, 0) for k in range(1200)], axis=1)
    good, suspect = whole[:, max(0, offset) :], late[:, max(0, -offset) :]
    there, back = lined_up(good, suspect), lined_up(suspect, good)
    assert [(r.good_start, r.suspect_start, r.length) for r in there.runs] == [
        (r.suspect_start, r.good_start, r.length) for r in back.runs
    ]
    assert [(s.inserted, s.missing) for s in there.slips] == [(s.missing, s.inserted) for s in back.slips]


def test_more_than_sixty_four_signals_line_up():
    whole = machine(70, 2000, 3)
    source = np.delete(np.arange(2000), [1200, 1201])
    found = lined_up(whole, whole[:, source])
    (slip,) = found.slips
    assert (slip.kind, slip.good_cycle, slip.missing) == ("missing", 1200, 2)


@pytest.mark.parametrize("cycles", [3000, pytest.param(300_000, marks=pytest.mark.long)])
def test_of_many_signals_the_most_telling_judge(cycles):
    """The first sixty rows move, but alike or always in the same way; what tells the cycles apart comes behind."""
    number = np.arange(cycles)
    dull = np.array([(number + i) % 16 < 8 for i in range(59)], np.uint8)
    once = (number > cycles // 2).astype(np.uint8)[None]
    whole = np.concatenate((dull, once, machine(40, cycles, 3)))
    at = cycles // 3
    # sixteen cycles lost are no slip to signals that repeat after sixteen
    found = lined_up(whole, np.delete(whole, np.s_[at : at + 16], axis=1))
    (slip,) = found.slips
    assert (slip.kind, slip.good_cycle, slip.missing) == ("missing", at, 16)
    chosen = telling(whole, whole, np.arange(len(whole)))
    assert len(chosen) == 64
    assert set(range(60, 100)) < set(chosen.tolist())
    assert (np.diff(chosen) > 0).all()


@pytest.mark.parametrize("by_hand", [0, -31])
def test_slips_are_followed_from_an_offset_by_hand(by_hand):
    whole = machine(12, 3000, 5)
    source = np.delete(np.repeat(np.arange(3000), 1 + 2 * (np.arange(3000) == 1200)), np.s_[2400:2403])
    good = whole[:, 31 if by_hand else 0 :]
    found = lined_up(good, whole[:, source], -by_hand)
    assert found.status == "by hand"
    assert found.offset_cycles == -by_hand
    assert [(s.kind, s.inserted, s.missing) for s in found.slips] == [("inserted", 2, 0), ("missing", 0, 3)]
    assert "followed from there" in found.reason
    assert "2 slips followed" in found.reason


def test_an_offset_by_hand_that_fits_nowhere_is_kept_as_it_was_set():
    whole = machine(12, 3000, 5)
    late = np.repeat(whole, 1 + (np.arange(3000) == 1200), axis=1)
    found = lined_up(whole, late, 7)
    assert [(r.good_start, r.suspect_start, r.length) for r in found.runs] == [(0, 7, 2994)]
    assert found.slips == ()
    assert "kept throughout" in found.reason


def test_an_offset_by_hand_is_kept_where_the_sequence_repeats_and_it_is_another_period():
    good = np.tile(machine(8, 50, 4), (1, 20))
    found = lined_up(good, good, 100)
    assert [(r.good_start, r.suspect_start, r.length) for r in found.runs] == [(0, 100, 900)]


def test_where_the_two_part_the_stretch_is_told():
    whole, other = machine(12, 6000, 5), machine(12, 6000, 6)
    suspect = np.concatenate((whole[:, :3000], other[:, :400], whole[:, 3500:]), axis=1)
    found = lined_up(whole, suspect)
    (parted,) = found.slips
    assert found.parts_at == parted.good_cycle
    # the first cycles of the stretch stay paired, and one more may be alike by chance
    assert 3000 <= parted.good_cycle <= 3020
    assert parted.good_cycle + parted.missing == 3500
    assert lined_up(whole, whole).parts_at is None


def test_so_many_slips_that_they_are_a_guess_end_as_unsure(monkeypatch):
    monkeypatch.setattr(follower, "MOST_EVENTS", 10)
    whole = machine(12, 20_000, 3)
    late = np.repeat(whole, 1 + (np.arange(20_000) % 500 == 499), axis=1)
    found = lined_up(whole, late)
    assert len([s for s in found.slips if s.kind == "inserted"]) <= 22
    assert found.slips[-1].kind == "unsure"


def test_only_a_line_up_that_stands_alone_or_whose_rivals_agree_may_clear():
    alone = lined_up(machine(6, 900, 4), machine(6, 900, 4))
    assert (alone.rivals, alone.sure == "doubtful") == ((), False)
    loop = np.tile(machine(6, 97, 4), (1, 12))
    found = lined_up(loop, loop)
    assert found.sure == "doubtful"
    assert found.rivals
    assert all(rival.agrees and rival.offset_cycles % 97 == 0 for rival in found.rivals)
    assert found.may_clear
    # one wrong state somewhere: the rivals do not agree any more
    broken = loop.copy()
    broken[2, 700] ^= 1
    assert not lined_up(loop, broken).may_clear
    assert lined_up(loop, loop, 97).sure == "by hand"
    assert lined_up(machine(6, 0, 4), loop).sure == "none"


@pytest.mark.parametrize("before_the_end", range(1, 24))
def test_a_fault_just_before_the_end_of_the_captures_is_followed(before_the_end):
    whole = machine(6, 600, 11)
    suspect = whole[:, 5:].copy()
    suspect[1, -before_the_end:] = 1
    found = lined_up(whole, suspect)
    assert found.offset_cycles == -5
    assert all(side.closes for side in found.coverage)


def test_a_start_in_common_says_which_cycle_is_which_though_nearly_all_lies_behind_a_slip():
    """The first cycles are at the offset of the release; three cycles apart all agrees from an event to the end."""
    own = machine(12, 700, 4)
    own[0] = np.arange(700) >= 300
    still = np.repeat(own[:, :1], 40, axis=1)
    sides = []
    for before, rows in ((20, own), (17, np.delete(own, np.s_[24:27], axis=1))):
        reset = np.repeat([0, 1], [before, rows.shape[1]]).astype(np.uint8)
        sides.append(np.vstack((np.hstack((still[:, :before], rows)), reset)))
    found = lined_up(*sides)
    offsets = [run.suspect_start - run.good_start for run in found.runs]
    assert offsets[0] == -3
    assert offsets[-1] == -6
    assert found.offset_cycles == -3


def test_a_turn_of_a_loop_behind_the_start_is_no_offset_where_another_agrees_for_as_long():
    late = Explained(6, 29.3, 550.7, 144, 285, 671, late=True)
    for bits, refused in ((626.6, True), (511.3, True), (200.0, False)):
        other = replace(late, offset=93, score=25.8, bits=bits)
        assert Choice(late, (), (other,), (), 3.2, False).refused == refused
