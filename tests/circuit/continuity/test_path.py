"""Where to read next: a break put in on purpose is found in as many readings as halving needs, and no more."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tracecore.circuit.continuity.path import NetPath, located, next_reading
from tracecore.circuit.continuity.readings import ContinuityList, Reading


def _asked(path: NetPath, breaks: set[int], ohms: float) -> tuple[int, ContinuityList]:
    """Answers what is asked as a backplane with these broken pieces would; how many readings that took."""
    readings, count = ContinuityList(), 0
    while (step := next_reading(path, readings)) is not None:
        one, other = sorted((path.points.index(step.start), path.points.index(step.end)))
        sound = not any(one <= piece < other for piece in breaks)
        readings = readings.entered(Reading(step.start, step.end, 0.2 if sound else ohms, "suspect"))
        count += 1
        assert count <= 1 + math.ceil(math.log2(len(path.points) - 1))
    return count, readings


@given(st.integers(2, 70), st.data(), st.sampled_from([math.inf, 52.0]))
def test_a_break_is_found_in_as_many_readings_as_halving_needs(points: int, data, ohms: float) -> None:
    piece = data.draw(st.integers(0, points - 2))
    path = NetPath(tuple(f"{n + 1}-A01" for n in range(points)))
    count, readings = _asked(path, {piece}, ohms)
    found = located(path, readings)
    assert found is not None
    assert found.between == (path.points[piece], path.points[piece + 1])
    assert found.place == "wire"
    assert count <= 1 + math.ceil(math.log2(points - 1))


@given(st.integers(3, 40), st.sets(st.integers(0, 38), min_size=2))
def test_of_two_breaks_one_is_found(points: int, breaks: set[int]) -> None:
    path = NetPath(tuple(f"{n + 1}-A01" for n in range(points)))
    here = {piece for piece in breaks if piece < points - 1}
    _, readings = _asked(path, here, math.inf)
    found = located(path, readings)
    assert found is not None
    if here:
        assert path.points.index(found.between[0]) in here


def test_readings_that_are_there_count() -> None:
    path = NetPath(tuple(f"{n}-A01" for n in range(1, 10)))
    there = ContinuityList((Reading("1-A01", "5-A01", 0.2, "suspect"), Reading("1-A01", "9-A01", math.inf, "suspect")))
    step = next_reading(path, there)
    assert step is not None
    assert (step.start, step.end, step.at_most) == ("5-A01", "7-A01", 2)


def test_between_a_connector_and_the_leg_behind_it_lies_a_contact() -> None:
    path = NetPath(("U3-8", "6-B22", "7-B04", "U7-2"), behind=frozenset({("7-B04", "U7-2"), ("6-B22", "U3-8")}))
    _, readings = _asked(path, {2}, math.inf)
    found = located(path, readings)
    assert found is not None
    assert (found.place, found.between) == ("contact", ("7-B04", "U7-2"))
    assert path.receiver == "7-B04"


def _to_ground(empty: float, card_in: float) -> ContinuityList:
    rows = [Reading("6-B22", "7-B04", 0.2, side) for side in ("good", "suspect")]
    rows += [Reading("7-B04", "7-A36", math.inf, "good"), Reading("7-B04", "7-A36", empty, "suspect")]
    rows += [Reading("7-B04", "7-A36", 2100.0, "good", note="card in")]
    rows += [Reading("7-B04", "7-A36", card_in, "suspect", note="card in")]
    return ContinuityList(tuple(rows))


@pytest.mark.parametrize(
    ("empty", "card_in", "place"),
    [(math.inf, 3.0, "card"), (2.0, 2.0, "backplane"), (math.inf, 2200.0, "cannot be told")],
)
def test_a_whole_wire_is_read_to_ground_without_and_with_the_card(empty: float, card_in: float, place: str) -> None:
    path = NetPath(("6-B22", "7-B04"), ground="7-A36")
    found = located(path, _to_ground(empty, card_in))
    assert found is not None
    assert found.place == place


def test_three_readings_lead_to_the_slot() -> None:
    """The order in which they are asked for: the wire, the empty slot, the card seated."""
    path = NetPath(("6-B22", "7-B04"), ground="7-A36")
    good = ContinuityList(tuple(r for r in _to_ground(0, 0).readings if r.side == "good"))
    asked = []
    for ohms in (0.2, math.inf, 3.0):
        step = next_reading(path, good)
        assert step is not None
        asked.append((step.start, step.end, step.kind, step.good_ohms))
        note = "card in" if step.kind == "ground card in" else ""
        good = good.entered(Reading(step.start, step.end, ohms, "suspect", note=note))
    assert asked == [
        ("6-B22", "7-B04", "path", 0.2),
        ("7-B04", "7-A36", "ground empty", math.inf),
        ("7-B04", "7-A36", "ground card in", 2100.0),
    ]
    found = located(path, good)
    assert found is not None
    assert (found.place, found.slot) == ("card", "7")
    assert next_reading(path, good) is None


def test_without_readings_of_good_nothing_is_told_from_ohms_to_ground() -> None:
    rows = [Reading("6-B22", "7-B04", 0.2, "suspect"), Reading("7-B04", "7-A36", 3.0, "suspect")]
    rows += [Reading("7-B04", "7-A36", 3.0, "suspect", note="card in")]
    found = located(NetPath(("6-B22", "7-B04"), ground="7-A36"), ContinuityList(tuple(rows)))
    assert found is not None
    assert found.place == "cannot be told"


def test_what_good_reads_open_too_is_no_break() -> None:
    """A list may have the wrong order of pins: then both sides read alike, and nothing is accused."""
    path = NetPath(("6-B22", "9-B11", "7-B04"))
    rows = [Reading("6-B22", "7-B04", math.inf, side) for side in ("good", "suspect")]
    alike = ContinuityList(tuple(rows))
    assert next_reading(path, alike) is None
    found = located(path, alike)
    assert found is not None
    assert (found.place, found.between) == ("cannot be told", ())
    more = ContinuityList((*rows, *(Reading("6-B22", "9-B11", math.inf, side) for side in ("good", "suspect"))))
    assert located(path, more) == found
