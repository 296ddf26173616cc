"""A chip that does not obey its inputs among the likely causes."""

from __future__ import annotations

import io
from dataclasses import replace

import numpy as np
import pytest

from app.cli.run import demo_request
from app.cli.terminal import print_comparison
from app.report.kept_record import kept_record
from app.report.record import comparison_json
from demo_traces import CASES
from tests.causes.test_causes import board, gates
from tests.netlist import CLOCK
from tracecore.capture import Capture
from tracecore.circuit.pin_list import parse_pin_list
from tracecore.compare import chips
from tracecore.comparison import CompareRequest, Comparison, compare

HEADING = "U14: input C, leg 3, may be open"
AND = "net,slot,pin,part,part_pin\nA,,,U1 7408,1\nB,,,U1 7408,2\nY,,,U1 7408,3\n"


@pytest.fixture(scope="module")
def clip() -> Comparison:
    return compare(demo_request(CASES["clip"]))


def compared(good: Capture, suspect: Capture, pins: str = AND) -> Comparison:
    return compare(CompareRequest((good,), (suspect,), clock=CLOCK, offset=0, pins=parse_pin_list(pins)))


def test_the_clipped_decoder_itself_is_the_first_cause(clip):
    first, *others = clip.causes
    assert first.heading("U14-14") == HEADING
    assert (first.signal, first.since_cycle) == ("SEL1", CASES["clip"].planted_cycle)
    assert first.probe_next.startswith("Leg 3 of U14")
    assert any("reads high, whatever ADDR02 does" in sentence for sentence in first.because)
    assert set(first.chip.outputs) == {first.signal, *(c.signal for c in others)}
    assert [c.rank for c in clip.causes] == list(range(1, 9))
    # one chip is at fault, so that none of its outputs is an equal of another
    assert not any("equally likely" in " ".join((c.summary, *c.because)) for c in clip.causes)
    assert all("U14" in c.probe_next and c.chip is None for c in others)


def test_every_output_of_the_program_names_it(clip):
    out = io.StringIO()
    print_comparison(clip, out)
    assert f"1. {HEADING}\n   SEL1 (U14-14): stuck high\n" in out.getvalue()
    record = kept_record(comparison_json(clip))
    assert record["causes"][0]["chip"]["fault"] == "input C, leg 3, may be open"
    assert record["causes"][1]["chip"] is None
    assert clip.cause_table["chip"].tolist() == [HEADING] + [""] * 7
    assert HEADING in clip._repr_html_()


def test_a_gate_with_an_input_that_reads_high():
    found = compared(*gates())
    first = found.causes[0]
    assert first.heading() == "U1: input A1, leg 1, may be open"
    assert first.signal == "Y"


def test_an_output_that_is_held_may_be_wrong_on_its_way():
    good, _ = gates(wrong=False)
    rng = np.random.default_rng(5)
    a, b = (rng.integers(0, 2, 400) for _ in range(2))
    delays = {"A": 10_000, "B": 10_000, "Y": 40_000, "Z": 40_000, "Q": 20_000}
    q = np.concatenate(([0], (a & b)[:-1]))
    suspect = board({"Z": 1 - (a & b), "Q": q, "B": b, "Y": np.zeros(400, np.int64), "A": a}, delays)
    first = compared(good, suspect).causes[0]
    # the wire to the captured pin may be what is open, so that the chip is evidence and no place
    assert first.chip is None
    assert first.heading() == "Y: stuck low"
    assert any("U1 (7408) does not obey its inputs" in sentence for sentence in first.because)
    assert "may be a contact or a wire" in first.probe_next


def test_a_chip_that_disobeys_on_good_too_says_nothing():
    wrong_legs = AND.replace("7408", "7432")
    found = compared(*gates(), wrong_legs)
    plain = compare(CompareRequest(found.request.good, found.request.suspect, clock=CLOCK, offset=0))
    assert found.causes == plain.causes


def test_of_a_long_capture_the_part_beside_the_divergence_is_judged(clip, monkeypatch):
    monkeypatch.setattr(chips, "MOST_JUDGED", 800)
    request = clip.request
    sizes = (request.good[0].resolution_ps, request.suspect[0].resolution_ps)
    (found,) = chips.disobeying_chips(clip.signals, clip.lineup, sizes, request.pins)
    assert found.suspect.judged < 400
    assert found.part_alone
    assert found.since_cycle == CASES["clip"].planted_cycle
    assert [(e.kind, e.legs) for e in found.suspect.explanations] == [("dead input", (3,))]


def exchanged(capture: Capture, one: str, other: str) -> Capture:
    traces = dict(capture.digital)
    traces[one], traces[other] = traces[other], traces[one]
    return replace(capture, digital=traces, sha256="", name="exchanged")


def test_exchanged_inputs_are_no_fault_of_the_chip_and_no_contents(clip):
    """The chip obeys what really reaches it; and a net that stays wrong did not merely come up otherwise."""
    (good,) = clip.request.good
    channels = {own.signal: own.channel for own in clip.request.sheet.probes}
    request = replace(clip.request, suspect=(exchanged(good, channels["ADDR00"], channels["ADDR02"]),))
    found = compare(request)
    assert {c.signal for c in found.causes} == {"ADDR00", "ADDR02"}
    assert all(c.chip is None for c in found.causes)
    assert not any("contents that come up" in " ".join(c.because) for c in found.causes)
    assert any(own.code == "swapped_leads" for own in found.notices)


def test_exchanged_outputs_are_told_as_leads(clip):
    (good,) = clip.request.good
    channels = {own.signal: own.channel for own in clip.request.sheet.probes}
    request = replace(clip.request, suspect=(exchanged(good, channels["SEL1"], channels["SEL3"]),))
    first, second = compare(request).causes
    assert first.heading() == "U14: the leads of legs 12 and 14 may be exchanged"
    assert "All of it fits if the leads of legs 12 (SEL3) and 14 (SEL1) are exchanged." in first.because
    assert second.probe_next.startswith("First U14")
