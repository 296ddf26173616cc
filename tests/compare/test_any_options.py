"""Whatever is planted, and whatever a person sets: no comparison clears the faulty board without a word on it.

One fault in the plant or in the hard machine, on a net or the clock; and by chance a tolerance, a condition (on the
faulty net itself too), an offset by hand, a common start, another edge or family, a renamed channel, channels away, a
capture cut short, the sides changed over, further captures. Exit status 0 is allowed only where the net was not judged,
and that is told, or where what was captured and kept shows no more than the two instruments leave open.
"""

from __future__ import annotations

import os
import random
from collections.abc import Iterator
from dataclasses import dataclass, field, replace
from fractions import Fraction
from typing import Any

import pytest

from tests.clock_planter import AT_THE_PIN, WITH_THE_MACHINE, with_clock_fault
from tests.machine.bench import draw
from tests.machine.faults import KINDS
from tests.plant import CLOCK, SIGNALS, Fault, Plant
from tracecore.capture import Capture, DigitalTrace
from tracecore.capture_series import SeriesRequest, read_against, reference
from tracecore.circuit.probe_sheet import Probe, ProbeSheet
from tracecore.comparison import CompareRequest, Comparison, compare
from tracecore.errors import RequestError

DRAWS = min(2000, int(os.environ.get("TWINSLOT_LONG_EXAMPLES", "300")))
FEW = 3
MODES = (
    "stuck low", "stuck high", "inverted", "follows", "one cycle late", "intermittent", "late", "early",
    "missing pulses", "extra pulses",
)  # fmt: skip


@dataclass(frozen=True, slots=True)
class Drawn:
    """Two captures, the faulty net, what was done to them, and what the person set."""

    good: Capture
    suspect: Capture
    clock: str
    net: str
    kind: str
    sheet: ProbeSheet = field(default_factory=ProbeSheet)
    settings: dict[str, Any] = field(default_factory=dict)
    done: tuple[str, ...] = ()

    @property
    def request(self) -> CompareRequest:
        settings = {"clock": self.clock, **self.settings}
        return CompareRequest((self.good,), (self.suspect,), self.sheet, **settings)


def drawn(seed: int) -> Drawn | None:
    """None where the fault shows in neither capture."""
    rng = random.Random(seed)
    made = _planted(rng, seed)
    if made is None:
        return None
    for what in rng.sample(tuple(OPTIONS), rng.choice((0, 1, 1, 2))):
        made = OPTIONS[what](made, rng)
    return made


def _planted(rng: random.Random, seed: int) -> Drawn | None:
    if rng.random() < 0.4:
        kind = rng.choice(KINDS)
        pair = draw(seed, kind)
        if pair is None or pair.shows is None or pair.net not in pair.names:
            return None
        return Drawn(pair.good, pair.suspect, pair.clock, pair.net, kind)
    rates = [Fraction(rng.choice((10_000_000, 16_000_000, 24_000_000, 50_000_000))) for _ in range(2)]
    offset = rng.choice((0, 7, -5, 40))
    plant = Plant(seed % 1000 + 1, cycles=700, good_rate_hz=rates[0], suspect_rate_hz=rates[1], offset_cycles=offset)
    if rng.random() < 0.2:
        kind = rng.choice((*AT_THE_PIN, *WITH_THE_MACHINE))
        clean = plant.clean()
        return Drawn(clean.good.capture(), with_clock_fault(clean.suspect, kind, seed).capture(), CLOCK, CLOCK, kind)
    net = rng.choice([s for s in SIGNALS if s != CLOCK])
    other = rng.choice([s for s in SIGNALS if s not in (net, CLOCK)])
    # what is late or early by less than both instruments' samples and parts together is no fault that can be seen
    by_ps = int(sum(10**12 / rate for rate in rates)) + rng.choice((60_000, 120_000))
    since = rng.choice((0, rng.randint(0, 500)))
    fault = Fault(rng.choice(MODES), net, since, by_ps=by_ps, share=rng.choice((1.0, 0.2, 0.05)), other=other)  # type: ignore[arg-type]
    pair_ = plant.faulty(fault)
    if not len(pair_.truth.cycles):
        return None
    return Drawn(pair_.good.capture(), pair_.suspect.capture(), CLOCK, net, fault.mode)


# ---- what a person may set or do


def _tolerance(made: Drawn, rng: random.Random) -> Drawn:
    # one that a person may set, and that does not excuse the planted delay, or one that must be refused
    return _with(made, tolerance_ps=rng.choice((0, 5_000, 20_000, 1_000_000, 500_000_000)))


def _condition(made: Drawn, rng: random.Random) -> Drawn:
    name = rng.choice([s for s in made.good.digital if s != made.clock])
    return _with(made, qualifier=f"{name} == {rng.randint(0, 1)}")


def _condition_on_it(made: Drawn, rng: random.Random) -> Drawn:
    if made.net == made.clock or made.net not in made.good.digital:
        return made
    other = rng.choice([s for s in made.good.digital if s != made.clock])
    return _with(made, qualifier=rng.choice((made.net, f"{made.net} == 0", f"{made.net} && {other}")))


def _with(made: Drawn, **settings: Any) -> Drawn:
    return replace(made, settings={**made.settings, **settings})


def _changed_over(made: Drawn, _rng: random.Random) -> Drawn:
    return replace(made, good=made.suspect, suspect=made.good, done=(*made.done, "changed over"))


def _renamed(made: Drawn, rng: random.Random) -> Drawn:
    name = rng.choice(sorted(made.suspect.digital))
    digital = {(f"{s}x" if s == name else s): trace for s, trace in made.suspect.digital.items()}
    return replace(made, suspect=replace(made.suspect, digital=digital), done=(*made.done, f"renamed {name}"))


def _away(made: Drawn, rng: random.Random) -> Drawn:
    names = sorted(made.suspect.digital)
    gone = set(rng.sample(names, rng.randint(1, len(names) // 2))) - {made.clock}
    digital = {s: trace for s, trace in made.suspect.digital.items() if s not in gone}
    return replace(made, suspect=replace(made.suspect, digital=digital), done=(*made.done, "channels away"))


def _cut(made: Drawn, rng: random.Random) -> Drawn:
    share = rng.choice((0.1, 0.3, 0.45))
    if rng.random() < 0.5:
        return replace(made, good=cut(made.good, share), done=(*made.done, f"good cut to {share}"))
    return replace(made, suspect=cut(made.suspect, share), done=(*made.done, f"suspect cut to {share}"))


def _sheet(made: Drawn, _rng: random.Random) -> Drawn:
    return replace(made, sheet=ProbeSheet(tuple(Probe(s, s) for s in made.good.digital)))


OPTIONS = {
    "tolerance": _tolerance,
    "condition": _condition,
    "condition on it": _condition_on_it,
    "offset": lambda made, rng: _with(made, offset=rng.choice((0, 1, -3, 7, 12))),
    "same start": lambda made, _rng: _with(made, same_start=True),
    "edge": lambda made, _rng: _with(made, edge="falling"),
    "no clock named": lambda made, _rng: _with(made, clock=None),
    "family": lambda made, _rng: _with(made, family="74HC"),
    "changed over": _changed_over,
    "renamed": _renamed,
    "channels away": _away,
    "cut": _cut,
    "sheet": _sheet,
}


def cut(capture: Capture, share: float) -> Capture:
    """The first part of a capture."""
    stop = int(capture.stop_ps * share)
    traces = {}
    for name, own in capture.digital.items():
        kept = own.times_ps < stop
        traces[name] = DigitalTrace(own.times_ps[kept].copy(), own.levels[kept].copy(), stop)
    return replace(capture, digital=traces)


# ---- what must hold


def cleared_without_a_word(found: Comparison, net: str) -> bool:
    """Does it agree, the faulty net among the signals that agree, and no notice names that net?"""
    told = {signal for own in found.notices for signal in own.signals}
    return found.outcome.word == "agrees" and net in found.outcome.signals and net not in told


def comparisons(first: int, count: int) -> Iterator[tuple[int, Drawn, Comparison]]:
    for seed in range(first, first + count):
        made = drawn(seed)
        if made is None:
            continue
        try:
            yield seed, made, compare(made.request)
        except RequestError as error:
            assert "_ps" not in str(error)  # noqa: PT017 - a refusal is an answer, and is for people


def check(first: int, count: int) -> None:
    cleared = [
        f"{seed}: {made.kind} on {made.net}, {made.settings}, {made.done}: {found.outcome.text}"
        for seed, made, found in comparisons(first, count)
        if cleared_without_a_word(found, made.net)
    ]
    # chance may hide a fault of one transition in a hundred between two samples, or behind what was captured
    assert len(cleared) <= count // 100, "\n".join(cleared)


def test_few_draws_clear_no_fault_without_a_word() -> None:
    check(70_000, FEW)


@pytest.mark.long
def test_no_options_clear_a_fault_without_a_word() -> None:
    check(71_000, DRAWS)


@pytest.mark.long
def test_a_watch_says_of_each_capture_what_a_comparison_says() -> None:
    for seed, made, found in comparisons(75_000, DRAWS // 4):
        if made.settings.get("offset") is None and made.settings.get("clock", made.clock):
            request = SeriesRequest(made.request.good, made.sheet, **made.request.settings.named)
            seen = read_against(reference(request), made.suspect).outcome
            assert (seed, seen.word) == (seed, found.captures[0].word)
            assert seen.word != "agrees" or found.outcome.word == "agrees", seed
