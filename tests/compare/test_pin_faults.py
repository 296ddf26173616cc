"""A fault at one pin ends as a divergence, or with a word that names the signal: never with "agrees" and nothing."""

from __future__ import annotations

import pytest

from tests.conftest import LONG_EXAMPLES
from tests.pin_faults import drawn_fault
from tests.sound_pairs import CLOCK, Rates, SoundPair, sound_pair
from tracecore.comparison import CompareRequest, Comparison, compare

KINDS = ("glitches", "missing pulses", "stuck")


def faulty_pair(seed: int, kind: str, rates: Rates) -> tuple[SoundPair, str, bool]:
    """A pair whose suspect has a fault, the net it is on, and whether the suspect's capture shows it at all."""
    sound = sound_pair(seed, 8, 60, 150, rates=rates)
    fault = drawn_fault(seed, kind, sound.suspect.resolution_ps, sound.suspect.resolution_ps * sound.samples[1])
    pair = sound_pair(seed, 8, 60, 150, rates=rates, wrong=fault)
    own, other = (p.suspect.digital[fault.net] for p in (sound, pair))
    return pair, fault.net, own.times_ps.tolist() != other.times_ps.tolist()


def compared(pair: SoundPair) -> Comparison:
    return compare(CompareRequest((pair.good,), (pair.suspect,), clock=CLOCK, offset=0))


def check(seed: int, kind: str, rates: Rates) -> None:
    pair, net, shows = faulty_pair(seed, kind, rates)
    found = compared(pair)
    named = {signal for own in found.notices for signal in own.signals}
    assert not shows or found.outcome.word != "agrees" or net in named, (seed, kind, found.outcome)


@pytest.mark.parametrize("rates", ["unlike", "alike"])
@pytest.mark.parametrize("kind", KINDS)
def test_a_fault_at_a_pin_is_never_without_a_word(kind: str, rates: Rates) -> None:
    for seed in (1, 2):
        check(seed, kind, rates)


@pytest.mark.parametrize("seed", [3, 4, 7])
def test_few_glitches_narrower_than_a_sample_cast_doubt(seed: int) -> None:
    """Pulses at any moment of the cycle; one or two of these are where nothing settles."""
    pair, net, shows = faulty_pair(seed, "glitches", "alike")
    found = compared(pair)
    assert shows
    assert found.outcome.word == "cannot tell"
    assert any(net in own.signals for own in found.notices if own.severity == "doubt")


@pytest.mark.long
def test_many_faults_at_pins_are_never_without_a_word() -> None:
    for seed in range(5_000, 5_000 + min(LONG_EXAMPLES, 300)):
        for kind in KINDS:
            check(seed, kind, ("unlike", "alike")[seed % 2])
