"""Two sound boards captured at unequal rates differ in nothing; what is narrower than one can see is no difference."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from tests.conftest import LONG_EXAMPLES
from tests.sound_files import FORMS, through_file
from tests.sound_pairs import CLOCK, sound_pair
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


@pytest.mark.parametrize("seed", [130_003, 130_005])
@pytest.mark.parametrize("form", FORMS)
def test_sound_boards_are_not_accused_whatever_form_their_files_have(form: str, seed: int, tmp_path: Path) -> None:
    """Files of changes alone say nothing of the sample period, which their rounded times must tell."""
    pair = sound_pair(seed, cycles=150)
    good = through_file(pair.good, "dump", tmp_path, seed)
    suspect = through_file(pair.suspect, form, tmp_path, seed)
    found = compare(CompareRequest((good,), (suspect,), clock=CLOCK, offset=0))
    assert found.outcome.word != "diverges", found.outcome


@pytest.mark.parametrize(("seed", "few", "many"), [(123_003, 3, 8), (123_373, 3, 8)])
def test_a_clock_whose_sampling_nearly_keeps_step_with_it_is_not_accused(seed: int, few: float, many: float) -> None:
    """Over the whole capture the samples drift by less than one against the clock, so its duty factor is not known."""
    assert accused(seed, few, many) == []


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
