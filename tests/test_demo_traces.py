"""The demo: small, invented and saying so, the same on every run, and found to be what its story says."""

from __future__ import annotations

import gzip
from pathlib import Path

import numpy as np
import pytest

from demo_traces import CASES, DemoCase
from demo_traces.make_demo import files, slow_store
from tracecore.circuit.continuity.path import located, next_reading
from tracecore.circuit.continuity.readings import OPEN, Reading, read_continuity
from tracecore.circuit.pin_list import read_pin_list
from tracecore.circuit.probe_sheet import read_probe_sheet
from tracecore.compare.chips import chips_on_both_sides
from tracecore.comparison import CompareRequest, Comparison, compare
from tracecore.measure.checkup import check
from tracecore.readers import read_capture

MOST_BYTES = 1_500_000


# forty captures take long, and the terminal's tests compare them
@pytest.fixture(
    scope="module", params=[pytest.param(n, marks=[pytest.mark.long] if n == "once" else []) for n in CASES]
)
def case(request: pytest.FixtureRequest) -> DemoCase:
    return CASES[request.param]


@pytest.fixture(scope="module")
def found(case: DemoCase) -> Comparison:
    good, suspect = (tuple(read_capture(p) for p in side) for side in (case.good, case.suspect))
    sheet = read_probe_sheet(case.sheet)
    return compare(CompareRequest(good, suspect, sheet, clock=case.clock, edge=case.edge, family=case.family))


def unpacked(path: Path) -> bytes:
    return gzip.decompress(path.read_bytes()) if path.suffix == ".gz" else path.read_bytes()


def test_making_the_files_again_gives_the_same_bytes():
    # the folder holds what the script makes, and no more: this also shows that two runs are alike; how well zlib
    # packs differs from version to version, so what is packed is compared unpacked
    made = files()
    folder = next(iter(CASES.values())).folder.parent
    inside = [p for case in CASES.values() for p in case.folder.rglob("*") if p.is_file()]
    held = {p.relative_to(folder).as_posix(): unpacked(p) for p in inside}
    assert sorted(made) == sorted(held)
    for name, content in made.items():
        assert held[name] == content, f"{folder / name} is not what make_demo writes"


def test_the_whole_demo_is_small():
    sizes = {c.name: sum(p.stat().st_size for p in c.folder.rglob("*") if p.is_file()) for c in CASES.values()}
    assert sum(sizes.values()) < MOST_BYTES
    assert sizes["once"] < 600_000


def test_a_case_says_that_it_is_invented_and_what_was_planted(case):
    text = (case.folder / "README.md").read_text("utf-8")
    assert "Invented" in text
    assert case.story in text
    for fact in (case.planted_signal, case.planted_mode, str(case.planted_cycle)):
        assert fact in text
    assert case.story.count(". ") == 2  # three sentences


def test_no_file_names_a_program_that_made_it(case):
    for path in (*case.good, *case.suspect):
        head = unpacked(path)[:400].decode().lower()
        assert "generat" not in head
        assert "version" not in head


def test_the_sheet_names_every_channel_and_a_driver_for_each(case):
    sheet = read_probe_sheet(case.sheet)
    assert [p.channel for p in sheet.probes] == list(read_capture(case.good[0]).channels)
    for probe in sheet.probes:
        # a leg under the clip is a point of its chip
        assert probe.slot == "7" or (case.name, probe.slot) == ("clip", "U14")
        assert probe.pin
        assert probe.driver.count("-") == 1


def test_every_capture_reads_without_a_note_and_is_fit_to_compare(case):
    sheet = read_probe_sheet(case.sheet)
    for path in case.good:
        capture = read_capture(path)
        assert capture.notes == ()
        checkup = check(capture, sheet, case.family)
        assert [line for line in checkup.lines if line.kind == "bad"] == []
        assert checkup.clocks[0].signal == case.clock
    assert all(read_capture(path).notes == () for path in case.suspect)


def test_the_line_up_is_found_and_is_the_only_one(case, found):
    offset = {
        "receiver": 12,
        "contact": -9,
        "handshake": 30,
        "waits": 18,
        "once": 5,
        "open": -7,
        "pullup": -11,
        "setup": -14,
        "held": 6,
        "clip": 9,
    }[case.name]
    first = found.lineup.runs[0]
    assert (first.suspect_start - first.good_start, found.lineup.status) == (offset, "unique")
    # the suspect's clock is 0.2 % slower, waits taken out; both instruments' samples of 42 ns leave more open over the
    # 320 cycles of 416 ns of a short capture than over 2000
    assert found.lineup.drift_ppm == pytest.approx(2000, abs=150 if case.name == "once" else 50)


def test_the_planted_fault_stands_first(case, found):
    first = found.causes[0]
    assert first.signal == case.planted_signal
    assert first.fault_mode.startswith(case.planted_mode)
    assert first.since_cycle == case.planted_cycle


def test_rare_late_transitions_are_named_and_not_the_middle_of_all():
    case = CASES["handshake"]
    good, suspect = (tuple(read_capture(p) for p in side) for side in (case.good, case.suspect))
    found = compare(CompareRequest(good, suspect, read_probe_sheet(case.sheet), clock=case.clock, edge=case.edge))
    # planted: about one in forty falls comes 170 ns late
    first = found.causes[0]
    assert (first.fault_mode, str(first.fault_kind)) == ("late by 173 ns now and then", "late")
    assert first.because[0].startswith("30 of ")
    assert first.because[1] == "The others are on time."


def test_a_line_that_rises_slowly_sends_to_its_pull_up():
    case = CASES["pullup"]
    good, suspect = (tuple(read_capture(p) for p in side) for side in (case.good, case.suspect))
    sheet = read_probe_sheet(case.sheet)
    found = compare(CompareRequest(good, suspect, sheet, clock=case.clock, edge=case.edge, family=case.family))
    assert "pull-up" in found.causes[0].probe_next


def test_nothing_else_is_wrong_but_consequences(case, found):
    wrong = {c.signal for c in found.causes}
    consequences = {
        "receiver": {"SEQ2", "D02"},
        "waits": {"D00", "D02", "D03", "ADDR01", "ADDR02", "SEQ2"},
        "once": {"D01", "D02"},
        "held": {"D00", "D02", "D03", "SEQ2", "ADDR00", "ADDR01", "ADDR02"},
        "clip": {f"SEL{k}" for k in range(8)} - {"SEL1"},
    }
    assert wrong == {case.planted_signal} | consequences.get(case.name, set())
    for consequence in found.causes[1:]:
        assert consequence.since_cycle is not None
        # where one of a decoder's outputs is missing, another one comes in the same cycle
        assert consequence.since_cycle >= case.planted_cycle + (case.name != "clip")


def test_the_acknowledge_is_late_by_what_was_planted():
    case = CASES["handshake"]
    good, suspect = read_capture(case.good[0]), read_capture(case.suspect[0])
    ack = compare(CompareRequest((good,), (suspect,), read_probe_sheet(case.sheet), clock=case.clock)).signal("ACK")
    late_ns = (ack.ties.moved_suspect_on_good_ps - ack.ties.moved_good_ps) / 1000
    # planted with a standard deviation of 2 ns; two boards' parts add up to 6 ns, both instruments 1 ns each
    assert ((late_ns > 150) & (late_ns < 190)).all()
    falls = int((ack.good_trace.levels == 0).sum())
    assert 1 / 60 < len(late_ns) / falls < 1 / 25


def test_the_receiver_is_seen_deaf_in_every_suspect_capture_and_in_no_good_one():
    case = CASES["receiver"]
    good, suspect = (tuple(read_capture(p) for p in side) for side in (case.good, case.suspect))
    found = compare(CompareRequest(good, suspect, read_probe_sheet(case.sheet), clock=case.clock))
    assert ("Seen in", "2 of 2 suspect captures") in found.causes[0].readings
    assert ("Diverges in", "0 of 1 other known-good captures") in found.causes[0].readings
    assert "6-B22" in found.causes[0].probe_next


def test_every_cycle_is_paired_with_its_own_behind_every_wait():
    case = CASES["waits"]
    good, suspect = read_capture(case.good[0]), read_capture(case.suspect[0])
    lineup = compare(CompareRequest((good,), (suspect,), read_probe_sheet(case.sheet), clock=case.clock)).lineup
    _, number = slow_store(-18, 2000)
    own = number[2:]  # the two before the first edge are not in the capture
    assert {slip.kind for slip in lineup.slips} == {"inserted"}
    assert sum(slip.good_cycle < case.planted_cycle for slip in lineup.slips) >= 10
    for run in lineup.runs:
        stop = run.suspect_start + run.length
        assert np.array_equal(own[run.suspect_start : stop], np.arange(run.good_start, run.good_start + run.length))
    # the further waits are what is left over
    inserted = sum(slip.inserted for slip in lineup.slips)
    inside = own[lineup.runs[0].suspect_start : stop]
    assert inserted == int((np.diff(inside) == 0).sum())


def test_one_start_in_forty_is_told_by_name_although_the_shown_pair_agrees(case, found):
    if case.name != "once":
        assert found.only_elsewhere == ()
        return
    assert [seen.name for seen in found.captures if seen.diverges] == [case.planted_in]
    assert len(found.captures) == 40
    assert all(seen.counts for seen in found.captures)
    assert {s.verdict for s in found.signals} == {"agrees"}
    first = found.causes[0]
    assert first.capture == case.planted_in
    assert case.planted_in in first.because[0]
    assert ("Seen in", "1 of 40 suspect captures") in first.readings
    assert ("Diverges in", "0 of 2 other known-good captures") in first.readings


def test_three_readings_lead_from_the_held_signal_to_the_slot():
    """The pin list names the path; the answers are those that the case's README.md tells."""
    case = CASES["held"]
    pins, readings = read_pin_list(case.pins), read_continuity(case.readings)
    assert pins.faults() == ()
    path = pins.path_of("D01", "7-B02")
    asked = []
    for ohms in (0.2, OPEN, 3.0):
        step = next_reading(path, readings)
        asked.append(step.kind)
        note = "card in" if step.kind == "ground card in" else ""
        readings = readings.entered(Reading(step.start, step.end, ohms, "suspect", note=note))
    assert asked == ["path", "ground empty", "ground card in"]
    found = located(path, readings)
    assert (found.place, found.slot, found.legs) == ("card", "7", ("U7-23",))


def test_the_clipped_decoder_is_told_to_have_a_dead_input(found, case):
    if case.name != "clip":
        return
    pins = read_pin_list(case.pins)
    assert pins.faults() == ()
    (chip,) = [c for c in chips_on_both_sides(found, pins) if c.chip.name == "U14"]
    assert chip.good.verdict == "obeys"
    assert chip.suspect.verdict == "disobeys"
    assert chip.since_cycle == case.planted_cycle
    (told,) = chip.suspect.explanations
    assert (told.kind, told.legs, told.names, told.level) == ("dead input", (3,), ("C",), 1)


def test_the_feedback_of_the_demo_machine_takes_every_word_but_zero() -> None:
    """Its mask is from memory; that it is one of the longest is a fact to be counted."""
    word, steps = 0xACE1, 0
    while steps == 0 or word != 0xACE1:
        word, steps = (word >> 1) ^ (0xB400 if word & 1 else 0), steps + 1
    assert steps == 2**16 - 1
