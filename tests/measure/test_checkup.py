"""What the check-up of one capture says: each fault of probing planted by hand, and silence where there is none."""

from __future__ import annotations

import io
import re
from fractions import Fraction

import numpy as np
import pytest
from hypothesis import given, settings

from app.cli.terminal import print_checkup
from demo_traces import CASES
from tests.plant import Plant
from tests.readers.samples import SAMPLES
from tests.strategies import plants
from tests.thinned import thinned
from tracecore.capture import HIGH, LOW, UNKNOWN, Capture, DigitalTrace, digital_trace
from tracecore.circuit.probe_sheet import ProbeSheet, read_probe_sheet
from tracecore.measure.checkup import Checkup, check
from tracecore.measure.checkup.gaps import stated_samples
from tracecore.quantities import format_time
from tracecore.readers import read_capture

NO_SHEET = ProbeSheet()
PERIOD = 400_000


def moves(times: np.ndarray | list[int], stop: int, first: int = LOW) -> DigitalTrace:
    """Starts at ``first`` at 0 and changes at each of the times."""
    times = np.concatenate(([0], times)).astype(np.int64)
    return digital_trace(times, ((np.arange(len(times)) + first) % 2).astype(np.uint8), stop)


def clock(cycles: int = 200, period: int = PERIOD) -> np.ndarray:
    return np.arange(1, 2 * cycles) * (period // 2)


def data(seed: int = 1, cycles: int = 200) -> np.ndarray:
    """Changes some time after every few edges."""
    rng = np.random.default_rng(seed)
    return np.flatnonzero(rng.random(cycles) < 0.4) * PERIOD + PERIOD // 2 + 60_000


def captured(
    traces: dict[str, DigitalTrace], resolution: int = 40_000, reader: str = "sampled rows", **more
) -> Capture:
    return Capture("made", traces, {}, resolution, reader, **more)


def said(capture: Capture, kind: str | None = None) -> str:
    """All lines, or those of one kind."""
    return "\n".join(line.text for line in check(capture, NO_SHEET).lines if kind in (None, line.kind))


STOP = 200 * PERIOD
SOUND = {"MCLK": moves(clock(), STOP), "A": moves(data(1), STOP), "B": moves(data(2), STOP)}


def test_a_sound_capture_has_nothing_to_look_at():
    checkup = check(captured(SOUND), NO_SHEET)
    assert [line.kind for line in checkup.lines] == ["fine"]
    assert checkup.worst.text == "Clock MCLK 2.5 MHz, 10 samples a cycle: fit for states and timing."


@settings(max_examples=40)
@given(plants)
def test_sound_machines_on_any_bench_have_nothing_to_look_at(plant):
    pair = plant.clean()
    for side in (pair.good, pair.suspect):
        assert [line.kind for line in check(side.capture(), pair.sheet).lines] == ["fine"]


@pytest.mark.parametrize(
    ("samples", "kind", "says"),
    [
        (10, "fine", "10 samples a cycle: fit for states and timing"),
        (5, "look", "5 samples a cycle: fit for states, timing only coarsely"),
        (3, "look", "3 samples a cycle: few for states"),
        (2, "bad", "a faster clock would look the same"),
    ],
)
def test_the_samples_are_counted_against_the_clock(samples, kind, says):
    step = PERIOD // samples
    traces = {n: moves(-(-t.transitions_ps // step) * step, STOP) for n, t in SOUND.items()}
    line = check(captured(traces, step), NO_SHEET).worst
    assert line.kind == kind
    assert says in line.text


@pytest.mark.parametrize("rate_khz", [1200, 1330, 1500, 1700, 1850])
def test_a_clock_of_fewer_than_two_samples_a_cycle_is_not_believed(rate_khz):
    """Seen at less than twice its rate a clock looks slower than it is: here 1 MHz, at 1.2 to 1.85 MHz.

    A clock of f sampled at r < 2 f shows up at r - f (the sampling theorem).
    """
    rate = Fraction(1000 * rate_khz)
    pair = Plant(3, cycles=3000, period_ps=1_000_000, good_rate_hz=rate, suspect_rate_hz=rate).clean()
    checkup = check(pair.good.capture(), pair.sheet)
    assert checkup.worst.kind == "bad"
    assert "iming cannot be judged" in checkup.worst.text


@pytest.mark.parametrize("samples", [Fraction(12, 5), Fraction(5, 2), 3, Fraction(7, 2), 4, 6])
def test_a_clock_of_few_samples_a_cycle_is_believed(samples):
    rate = 10**6 * Fraction(samples)
    pair = Plant(3, cycles=3000, period_ps=1_000_000, good_rate_hz=rate, suspect_rate_hz=rate).clean()
    checkup = check(pair.good.capture(), pair.sheet)
    # below three samples a cycle no comparison agrees: the file is not fit for one
    assert [line.kind for line in checkup.lines if line.kind != "fine"] == ["bad" if samples < 3 else "look"]
    assert checkup.clocks[0].rate_hz == pytest.approx(1e6, rel=0.001)


def test_a_clock_of_two_periods_by_turns_has_their_mean():
    # 190 and 210 ns, none of them near the 200 ns between
    steps = np.tile([95_000, 105_000, 105_000, 95_000], 100)
    turns = moves(np.cumsum(steps[:-3]), int(steps.sum()))
    assert "5 MHz, 200 samples a cycle" in said(captured({"CLK": turns}, 1_000))


def test_changes_are_not_counted_as_samples():
    text = said(captured(SOUND, 1000, "change rows"))
    assert "samples a cycle" not in text
    assert "times to 1 ns" in text
    coarse = check(captured(SOUND, 200_000, "change rows"), NO_SHEET).worst
    assert coarse.kind == "bad"


def test_without_a_clock_the_reason_is_told():
    assert "No signal ticks evenly" in said(captured({"A": SOUND["A"], "B": SOUND["B"]}), "look")
    assert "too short or too still" in said(captured({"A": moves([100], 1000)}), "bad")


def test_dead_channels_are_named_with_their_level():
    still = {"C": moves([], STOP), "D": moves([], STOP, HIGH)}
    assert "Never move: C (low), D (high)." in said(captured(SOUND | still), "look")
    assert "Nothing moves at all" in said(captured(still), "bad")


def test_levels_between_the_thresholds_are_told():
    never = DigitalTrace(np.array([0]), np.array([UNKNOWN], np.uint8), STOP)
    assert "Neither low nor high in the whole capture: C" in said(captured(SOUND | {"C": never}), "bad")
    times = np.array([0, STOP // 2, STOP * 3 // 4])
    half = DigitalTrace(times, np.array([LOW, UNKNOWN, HIGH], np.uint8), STOP)
    assert "C for 25 % of the time" in said(captured(SOUND | {"C": half}), "look")


def test_bridged_leads_and_inverse_twins_are_told_with_their_count():
    count = len(data(1))
    text = said(captured(SOUND | {"C": moves(data(1), STOP)}), "look")
    assert f"Always move together: A, C ({count} transitions each" in text
    text = said(captured(SOUND | {"C": moves(data(1), STOP, HIGH)}), "look")
    assert f"Always opposite: A and C ({count} transitions each" in text


def test_leads_of_one_net_may_be_read_a_sample_apart_now_and_then():
    late = data(1)
    late[::25] += 40_000
    assert "move together: A, C" in said(captured(SOUND | {"C": moves(late, STOP)}))
    late[::5] += 40_000
    assert "together" not in said(captured(SOUND | {"C": moves(late, STOP)}))


def spiked(every: int, width: int = 40_000) -> DigitalTrace:
    at = np.arange(2, 190, every) * PERIOD + PERIOD // 4
    return moves(np.sort(np.concatenate((data(1), at, at + width))), STOP)


def test_many_pulses_of_one_sample_are_told_and_few_are_not():
    assert "one sample (40 ns)" in said(captured(SOUND | {"C": spiked(3)}), "look")
    assert "one sample" not in said(captured(SOUND | {"C": spiked(60)}))
    assert "one sample" not in said(captured(SOUND | {"C": spiked(3, 80_000)}))


def test_ringing_on_every_edge_is_told_although_most_pulses_are_short():
    ringing = np.sort(np.concatenate((data(1), data(1) + 40_000, data(1) + 80_000)))
    assert "one sample (40 ns)" in said(captured(SOUND | {"C": moves(ringing, STOP)}), "look")


def test_gaps_are_told_with_place_and_length():
    paused = np.concatenate((clock(60), clock(60)[-1] + 40 * PERIOD + clock(60)))
    stop = int(paused[-1]) + PERIOD
    text = said(captured({"MCLK": moves(paused, stop), "A": moves(data(1, 20), stop)}), "look")
    assert "Gap: MCLK does not tick for 16.4 µs" in text
    assert "nothing else moves meanwhile" in text
    text = said(captured({"MCLK": moves(paused, stop), "A": moves(data(1, 160), stop)}), "look")
    assert "A move" in text


def test_a_few_uneven_cycles_are_told_and_a_stretched_clock_is_not_blamed():
    lost = clock(100).astype(float)
    lost[50:] -= 150_000
    assert "1 of 99 cycles are not 400 ns long (250 ns to 250 ns)" in said(
        captured({"MCLK": moves(lost, STOP)}), "look"
    )
    stretched = np.cumsum(np.where(np.arange(400) % 8 == 0, PERIOD, PERIOD // 2))
    assert "stretched or gated" in said(captured({"MCLK": moves(stretched, 10 * STOP)}), "fine")


def test_a_long_silence_counts_where_there_is_no_clock():
    quiet = {"A": moves(np.concatenate((data(1), data(2) + 2 * STOP)), 3 * STOP), "B": moves(data(4), 3 * STOP)}
    assert "Gap: nothing moves" in said(captured(quiet), "look")


def test_an_end_cut_short_is_told():
    short = captured(SOUND | {"C": moves(data(4, 90), STOP // 2)})
    assert "End cut short on C" in said(short, "look")
    facts = (("sample rate", "25 MHz"), ("samples", "2000"), ("comment", "Sample count: 2001"))
    assert "says 2\u202f001 samples and holds 2\u202f000" in said(captured(SOUND, facts=facts), "look")
    assert "says" not in said(captured(SOUND, facts=(*facts[:2], ("comment", "Sample count: 2.000 k Samples"))))


@pytest.mark.parametrize(
    ("text", "count"),
    [("Sample count: 2.896 M Samples", (2_895_500, 2_896_000)), ("Sample count: 17", (17, 17)), ("by hand", None)],
)
def test_counts_in_the_heading_are_read_with_their_rounding(text, count):
    assert stated_samples((("comment", text),)) == count


def printed(capture: Capture, checkup: Checkup, sheet: ProbeSheet) -> str:
    out = io.StringIO()
    print_checkup(capture, checkup, sheet, out)
    return out.getvalue()


def screen_rows(text: str) -> int:
    return sum(-(-len(line) // 100) for line in text.splitlines())


@pytest.mark.parametrize("name", SAMPLES)
def test_every_sample_file_gets_the_truth_in_a_screenful(name, tmp_path):
    sample = SAMPLES[name]
    path = tmp_path / "sample.csv"
    path.write_bytes(sample.text if isinstance(sample.text, bytes) else sample.text.encode())
    capture = read_capture(path)
    checkup = check(capture, NO_SHEET)
    text = printed(capture, checkup, NO_SHEET)
    assert screen_rows(text) <= 24
    assert all(note in text for note in capture.notes)
    # nobody can line up a handful of rows
    rises = [sum(level == HIGH for _, level in entries[1:]) for entries in sample.levels.values()]
    if max(rises, default=0) < 8:
        assert checkup.worst.kind == "bad"
        assert "too still" in text or "Nothing moves at all" in text
    still = [c for c, entries in sample.levels.items() if len(entries) == 1 and entries[0][1] != UNKNOWN]
    if still and len(still) < len(sample.levels) + len(sample.volts):
        assert all(channel in text.split("Never move:")[1] for channel in still)
    if "change" in sample.reader:
        assert "samples a cycle" not in text
        assert f"times to {format_time(sample.resolution_ps)}" in text


DEMO = [(c, p) for c in CASES.values() for p in (*c.good, *c.suspect)]


@pytest.mark.parametrize(("case", "path"), thinned(DEMO, 3), ids=[f"{c.name}/{p.stem}" for c, p in DEMO])
def test_every_demo_file_gets_the_truth_in_a_screenful(case, path):
    capture, sheet = read_capture(path), read_probe_sheet(case.sheet)
    checkup = check(capture, sheet, case.family)
    text = printed(capture, checkup, sheet)
    assert screen_rows(text) <= 24
    # the demo's clock runs at 1 / 416 ns = 2.4038 MHz, the suspect's is 0.2 % slower: 2.399 MHz; over the 320 cycles of
    # the shortest capture one sample of 41.7 ns is 0.03 %
    assert re.search(r"Clock MCLK (2\.40[345]|2\.39[89]|2\.400) MHz", text)
    if case.name == "handshake":
        assert "times to 1 ns" in text
        assert "samples a cycle" not in text
    # what is there to look at: the levels that were planted in two files
    planted = {"contact": "D02", "open": "D01"} if path.name.startswith("suspect.") else {}
    look = [line.text for line in checkup.lines if line.kind != "fine"]
    assert all(f"Neither low nor high: {planted.get(case.name)}" in t for t in look)
    assert bool(look) == (case.name in planted)


def test_however_much_is_wrong_it_fits_a_screen_and_the_worst_is_there():
    traces = {f"LONG{i:02d}": moves(data(i // 2), STOP) for i in range(64)}
    notes = tuple(f"Note {i}: " + "something that the reader had to say of this file " * 3 for i in range(30))
    capture = captured(traces, notes=notes)
    checkup = check(capture, NO_SHEET)
    text = printed(capture, checkup, NO_SHEET)
    assert screen_rows(text) <= 24
    assert checkup.worst.text in text
    assert "more, none worse than these" in text
