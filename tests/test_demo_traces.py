"""The demo: small, invented and saying so, the same on every run, and found to be what its story says."""

from __future__ import annotations

import pytest

from demo_traces import CASES, DemoCase
from demo_traces.make_demo import files
from tracecore.circuit.probe_sheet import read_probe_sheet
from tracecore.comparison import CompareRequest, Comparison, compare
from tracecore.measure.checkup import check
from tracecore.readers import read_capture

MOST_BYTES = 1_500_000


@pytest.fixture(scope="module", params=list(CASES))
def case(request: pytest.FixtureRequest) -> DemoCase:
    return CASES[request.param]


@pytest.fixture(scope="module")
def found(case: DemoCase) -> Comparison:
    good, suspect = (tuple(read_capture(p) for p in side) for side in (case.good, case.suspect))
    sheet = read_probe_sheet(case.sheet)
    return compare(CompareRequest(good, suspect, sheet, clock=case.clock, edge=case.edge, family=case.family))


def test_making_the_files_again_gives_the_same_bytes():
    # the folder holds what the script makes, and no more: this also shows that two runs are alike
    made = files()
    folder = next(iter(CASES.values())).folder.parent
    held = {f"{c.name}/{p.name}": p.read_bytes() for c in CASES.values() for p in c.folder.iterdir()}
    assert sorted(made) == sorted(held)
    for name, content in made.items():
        assert held[name] == content, f"{folder / name} is not what make_demo writes"


def test_a_case_is_small(case):
    assert sum(p.stat().st_size for p in case.folder.iterdir()) < MOST_BYTES


def test_a_case_says_that_it_is_invented_and_what_was_planted(case):
    text = (case.folder / "README.md").read_text("utf-8")
    assert "Invented" in text
    assert case.story in text
    for fact in (case.planted_signal, case.planted_mode, str(case.planted_cycle)):
        assert fact in text
    assert case.story.count(". ") == 2  # three sentences


def test_no_file_names_a_program_that_made_it(case):
    for path in (*case.good, *case.suspect):
        head = path.read_text("utf-8")[:400].lower()
        assert "generat" not in head
        assert "version" not in head


def test_the_sheet_names_every_channel_and_a_driver_for_each(case):
    sheet = read_probe_sheet(case.sheet)
    assert [p.channel for p in sheet.probes] == list(read_capture(case.good[0]).channels)
    for probe in sheet.probes:
        assert probe.slot == "7"
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
    offset = {"receiver": 12, "contact": -9, "handshake": 30}[case.name]
    assert (found.lineup.offset_cycles, found.lineup.status) == (offset, "unique")
    # the suspect's clock is 0.2 % slower
    assert found.lineup.drift_ppm == pytest.approx(2000, abs=50)


def test_the_planted_fault_stands_first(case, found):
    first = found.causes[0]
    assert first.signal == case.planted_signal
    assert first.fault_mode.startswith(case.planted_mode)
    assert first.since_cycle == case.planted_cycle


def test_nothing_else_is_wrong_but_consequences(case, found):
    wrong = {c.signal for c in found.causes}
    assert wrong == ({"D03", "SEQ2", "D02"} if case.name == "receiver" else {case.planted_signal})
    for consequence in found.causes[1:]:
        assert consequence.since_cycle is not None
        assert consequence.since_cycle > case.planted_cycle


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
    assert ("Differs in", "0 of 1 other known-good captures") in found.causes[0].readings
    assert "6-B22" in found.causes[0].probe_next
