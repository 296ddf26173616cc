"""Two sound boards captured at unequal rates differ in nothing; what is narrower than one can see is no difference."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from tests.conftest import LONG_EXAMPLES
from tests.sound_files import FORMS, through_file
from tests.sound_pairs import CLOCK, sound_pair
from tests.thinned import thinned
from tracecore.compare.constant_delay import constant_delay_ps
from tracecore.compare.pair import keeps_step
from tracecore.compare.transitions import match_transitions
from tracecore.comparison import CompareRequest, compare


def accused(seed: int, few: float, many: float) -> list[str]:
    pair = sound_pair(seed, few, many)
    found = compare(CompareRequest((pair.good,), (pair.suspect,), clock=CLOCK, offset=0))
    return [signal.signal for signal in found.signals if signal.verdict == "diverges"]


@pytest.mark.parametrize(("few", "many"), [(3, 200), (11, 23), (3, 8)])
def test_sound_boards_at_unequal_rates_are_not_accused(few: float, many: float) -> None:
    assert [accused(seed, few, many) for seed in range(4)] == [[]] * 4


@pytest.mark.parametrize("seed", thinned([130_003, 130_005]))
@pytest.mark.parametrize("form", FORMS)
def test_sound_boards_are_not_accused_whatever_form_their_files_have(form: str, seed: int, tmp_path: Path) -> None:
    """Files of changes alone say nothing of the sample period, which their rounded times must tell."""
    pair = sound_pair(seed, cycles=150)
    good = through_file(pair.good, "dump", tmp_path, seed)
    suspect = through_file(pair.suspect, form, tmp_path, seed)
    found = compare(CompareRequest((good,), (suspect,), clock=CLOCK, offset=0))
    assert found.outcome.word != "diverges", found.outcome


def test_a_clock_whose_times_were_rounded_is_not_accused(tmp_path: Path) -> None:
    """A cycle of four or five samples, written to whole nanoseconds, is a little more or less than these."""
    pair = sound_pair(300_091)
    good, suspect = (through_file(side, "change rows", tmp_path, 1) for side in (pair.good, pair.suspect))
    found = compare(CompareRequest((good,), (suspect,), clock=CLOCK, offset=0))
    assert found.outcome.word == "agrees", found.outcome


@pytest.mark.parametrize(("seed", "few", "many"), [(123_003, 3, 8), (123_373, 3, 8)])
def test_a_clock_whose_sampling_nearly_keeps_step_with_it_is_not_accused(seed: int, few: float, many: float) -> None:
    """Over the whole capture the samples drift by less than one against the clock, so its duty factor is not known."""
    assert accused(seed, few, many) == []


@pytest.mark.parametrize(
    ("seed", "few", "many"),
    [(60_176, 3, 200), (121_352, 3, 200), (200_216, 3, 200), (144_301, 3, 200)],
)
def test_what_short_pulses_feign_is_told_and_accuses_nobody(seed: int, few: float, many: float) -> None:
    """A pulse that one side misses beside a transition, and two that the other reads as one."""
    pair = sound_pair(seed, few, many)
    found = compare(CompareRequest((pair.good,), (pair.suspect,), clock=CLOCK, offset=0))
    assert found.outcome.word == "cannot tell"
    assert "short_pulses_may_hide" in {own.code for own in found.notices}


@pytest.mark.parametrize("seed", [124_597, 124_601, 124_620])
def test_two_short_pulses_that_one_side_reads_as_one_accuse_nobody(seed: int) -> None:
    assert accused(seed, 11, 60) == []


def test_a_transition_is_doubtful_only_as_far_as_the_signal_makes_short_pulses() -> None:
    """Late by more than the tolerance, and by no more than a short pulse beside it could make it."""
    plain = [(1000 * k, 1000 * k + 500) for k in range(1, 60)]
    gates = plain + [(1000 * k + 700, 1000 * k + 730) for k in range(1, 12)]
    limits = {"tolerance_ps": 41, "furthest_ps": 400, "narrowest_ps": 40}
    late = {10, 20, 30}
    for own, in_step, doubtful in ((plain, False, 0), (plain, True, 3), (gates, False, 3)):
        moved = [(a + 75 * (i in late), b) for i, (a, b) in enumerate(own)]
        good, suspect = (pulses(*sorted(side)) for side in (own, moved))
        found = match_transitions(*good, *suspect, **limits, in_step=in_step)
        assert (len(found.hazy[0]), len(found.moved_good)) == (doubtful, 3 - doubtful)
    far = [(a + 90 * (i in late), b) for i, (a, b) in enumerate(gates)]
    found = match_transitions(*pulses(*sorted(gates)), *pulses(*sorted(far)), **limits)
    assert (len(found.hazy[0]), len(found.moved_good)) == (0, 3)


def test_a_pulse_may_be_two_that_the_other_side_missed() -> None:
    often = [(1000 * k, 1000 * k + 500) for k in range(1, 60)] + [(1000 * k + 700, 1000 * k + 730) for k in range(1, 9)]
    once = [*often, (20_700, 20_755)]
    limits = {"tolerance_ps": 41, "furthest_ps": 400, "narrowest_ps": 40}
    found = match_transitions(*pulses(*sorted(once)), *pulses(*sorted(often)), **limits, periods_ps=(15, 15))
    assert (len(found.missing), found.doubtful) == (0, 1)
    # longer than two sample periods of the side that missed it, and one of its own
    found = match_transitions(*pulses(*sorted(once)), *pulses(*sorted(often)), **limits, periods_ps=(25, 14))
    assert (len(found.missing), found.doubtful) == (2, 0)


@pytest.mark.long
def test_many_sound_boards_at_unequal_rates_are_not_accused() -> None:
    for seed in range(10_000, 10_000 + min(LONG_EXAMPLES, 1_000)):
        assert accused(seed, 3, 200) == [], seed


def pulses(*pairs: tuple[int, int]) -> tuple[np.ndarray, np.ndarray]:
    """Transitions of pulses, each from the first time to the second."""
    return np.array(pairs, np.int64).ravel(), np.resize(np.array([1, 0], np.uint8), 2 * len(pairs))


def test_a_narrow_pulse_that_one_side_saw_is_not_another_one_that_the_other_side_saw() -> None:
    good, suspect = pulses((100, 120), (1000, 1500)), pulses((400, 420), (1000, 1500))
    limits = {"tolerance_ps": 30, "furthest_ps": 400}
    assert match_transitions(*good, *suspect, **limits).moved_good.tolist() == [0, 1]
    unseen = match_transitions(*good, *suspect, **limits, narrowest_ps=25)
    assert (len(unseen.moved_good), len(unseen.missing), len(unseen.extra)) == (0, 0, 0)
    assert unseen.good.tolist() == [2, 3]


def test_of_two_twins_as_near_the_one_is_taken_that_leaves_the_narrower_pulse() -> None:
    # up at 470, down at 530, up at 545 on one side; the other, which samples every 20, sees one up at 510
    often = [(1000 * k, 1000 * k + 500) for k in range(1, 20)]
    one, three = [(510, 800), *often], [(470, 530), (545, 800), *often]
    limits = {"tolerance_ps": 40, "furthest_ps": 400, "narrowest_ps": 25}
    forward, back = (match_transitions(*pulses(*a), *pulses(*b), **limits) for a, b in ((one, three), (three, one)))
    assert (len(forward.missing), len(forward.extra), len(back.missing), len(back.extra)) == (0, 0, 0, 0)
    assert forward.suspect[:2].tolist() == back.good[:2].tolist() == [0, 3]
    assert forward.short_pulses_ps[1].tolist() == back.short_pulses_ps[0].tolist() == [15]
    # without a narrow part the wide pulse is one that the other side would have seen
    three[1] = (560, 800)
    apart = match_transitions(*pulses(*one), *pulses(*three), **limits)
    assert len(apart.extra) == 2


def test_an_unseen_pulse_beside_a_transition_does_not_make_it_late() -> None:
    often = [(1000 * k, 1000 * k + (20 if k % 3 == 0 else 500)) for k in range(60)]
    late = [*often[:40], (often[40][0], often[40][1] + 45), *often[41:]]
    limits = {"tolerance_ps": 30, "furthest_ps": 400}
    assert len(match_transitions(*pulses(*often), *pulses(*late), **limits, narrowest_ps=25).moved_good) == 0
    wide = [(1000 * k, 1000 * k + 500) for k in range(60)]
    once = [*wide[:40], (wide[40][0], wide[40][1] + 45), *wide[41:]]
    assert len(match_transitions(*pulses(*wide), *pulses(*once), **limits, narrowest_ps=25).moved_good) == 1


def test_a_constant_delay_is_learnt_from_a_clear_share_of_the_transitions() -> None:
    rng = np.random.default_rng(1)
    good = np.cumsum(rng.integers(3_000, 9_000, 400))
    levels = np.resize(np.array([1, 0], np.uint8), 400)
    late = good + 700
    assert constant_delay_ps(good, levels, late, levels, 100, 2_000)[0] == 700
    strange = good + 1_000 + rng.integers(-900, 900, 400)
    strange[:60] = late[:60]
    assert constant_delay_ps(good, levels, np.sort(strange), levels, 100, 2_000)[0] == 0


def test_sampling_in_step_with_the_clock_is_told_from_sampling_that_drifts() -> None:
    samples = 10_000
    steady = np.arange(1, 400) * 250_000
    assert keeps_step(steady, samples)
    drifting = -(-(np.arange(1, 400) * 251_234) // samples) * samples
    assert not keeps_step(drifting, samples)
