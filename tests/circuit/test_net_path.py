"""A net's way to a pin, by either list; what readings and traces teach a pin list."""

from __future__ import annotations

import random

import numpy as np
import pytest

from tracecore.capture import DigitalTrace, digital_trace
from tracecore.circuit.continuity.readings import parse_continuity
from tracecore.circuit.learnt_pins import NOTE, driver_hints, learnt_pins
from tracecore.circuit.net_path import net_at, path_to, place_of
from tracecore.circuit.pin_list import parse_pin_list
from tracecore.circuit.probe_sheet import parse_probe_sheet

PINS = parse_pin_list(
    "net,slot,pin,part,part_pin,direction\n"
    "D03,6,B22,U3 7400,3,out\nD03,9,B11,U2 7404,1,in\nD03,7,B04,U7 74181,2,in\nGND,7,A36,,,supply\n"
)
SHEET = parse_probe_sheet("channel,signal,slot,pin,driver\nL0,D03,7,B04,6-B22\nL1,ACK,7,A09,4-B09\nL2,X,7,,\n")


def test_a_pin_that_is_none_has_no_place() -> None:
    assert [place_of(*pair) for pair in (("7", "B4"), ("7", ""), ("", "B04"), ("7", "B4-x"))] == ["7-B04", "", "", ""]


@pytest.mark.parametrize(
    ("point", "points"),
    [
        ("7-B04", ("6-B22", "9-B11", "7-B04")),
        ("9-B11", ("6-B22", "9-B11")),
        # at the driver itself the whole net is asked for
        ("6-B22", ("6-B22", "9-B11", "7-B04")),
        # the sheet alone knows this one
        ("7-A09", ("4-B09", "7-A09")),
    ],
)
def test_the_path_to_a_pin(point: str, points: tuple[str, ...]) -> None:
    path = path_to(PINS, SHEET, point)
    assert path is not None
    assert path.points == points
    assert path.ground == "7-A36" or point == "9-B11"


def test_a_pin_that_nobody_knows_has_no_path() -> None:
    assert path_to(PINS, SHEET, "1-A01") is None
    assert [net_at(PINS, SHEET, p) for p in ("9-B11", "4-B09", "1-A01", "")] == ["D03", "ACK", "", ""]


def test_readings_of_good_put_pins_on_nets_and_suspect_ones_do_not() -> None:
    rows = "6-B22,3-B01,0.2,good\n3-A02,5-A02,0.3,good\n1-A05,2-A05,0.2,suspect\n1-A07,2-A07,open,good\n"
    found = learnt_pins(parse_continuity("from,to,ohms,side\n" + rows), PINS, SHEET)
    assert [(r.net, r.place, r.direction, r.note) for r in found.rows] == [
        ("NET-3-A02", "3-A02", "", NOTE),
        ("NET-3-A02", "5-A02", "", NOTE),
        ("D03", "3-B01", "", NOTE),
    ]
    assert found.clashes == ()


def test_nets_that_the_lists_have_apart_and_good_joins_are_told_and_not_learnt() -> None:
    found = learnt_pins(parse_continuity("from,to,ohms,side\n7-B04,7-A09,0.2,good\n"), PINS, SHEET)
    assert found.rows == ()
    assert found.clashes == (("ACK", "D03"),)


def _trace(times: list[int]) -> DigitalTrace:
    levels = np.arange(len(times) + 1, dtype=np.uint8) % 2
    return digital_trace(np.array([0, *times], np.int64), levels, max(times) + 10**6)


def _sampled(times: list[int], period: int) -> DigitalTrace:
    return _trace([-(-t // period) * period for t in times])


@pytest.mark.parametrize("delay_ps", [3_000, 12_000])
def test_the_pin_that_moves_first_is_suggested_with_its_counts(delay_ps: int) -> None:
    draw = random.Random(5)
    times = [t + draw.randrange(100_000) for t in range(10**6, 161 * 10**6, 400_000)]
    driver, receiver = _sampled(times, 10_000), _sampled([t + delay_ps for t in times], 10_000)
    (hint,) = driver_hints({"D03": {"7-B04": receiver, "6-B22": driver}})
    assert (hint.net, hint.pin, hint.others, hint.later) == ("D03", "6-B22", ("7-B04",), 0)
    assert hint.first > 80
    assert hint.transitions == 400


def test_pins_that_move_alike_or_now_one_now_the_other_first_suggest_nothing() -> None:
    draw = random.Random(6)
    times = [t + draw.randrange(100_000) for t in range(10**6, 121 * 10**6, 400_000)]
    alike = _sampled(times, 10_000)
    jitter = _sampled([t + draw.choice((-9_000, 9_000)) for t in times], 10_000)
    few = _sampled(times[:5], 10_000)
    assert driver_hints({"A": {"1-A01": alike, "2-A01": _sampled(times, 10_000)}}) == ()
    assert driver_hints({"A": {"1-A01": alike, "2-A01": jitter}}) == ()
    assert driver_hints({"A": {"1-A01": few, "2-A01": _sampled([t + 50_000 for t in times[:5]], 10_000)}}) == ()
    assert driver_hints({"A": {"1-A01": alike}}) == ()
