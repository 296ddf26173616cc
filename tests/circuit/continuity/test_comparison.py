"""Two lists against each other, with faults that are put in on purpose; nets against a general graph library."""

from __future__ import annotations

import math
import random

import pytest

from tracecore.circuit.continuity.comparison import compare_continuity
from tracecore.circuit.continuity.nets import Nets
from tracecore.circuit.continuity.readings import ContinuityList, Reading, parse_continuity

HEAD = "from,to,ohms,side\n"


def _compared(rows: str):
    return compare_continuity(parse_continuity(HEAD + rows))


@pytest.mark.parametrize(
    ("good", "suspect", "verdict"),
    [
        ("0.2", "0.2", "same"),
        ("0.2", "1.1", "same"),
        ("0.2", "1.3", "raised"),
        ("0.2", "52.4", "raised"),
        ("0.2", "open", "open"),
        ("open", "0.4", "extra"),
        ("2.1k", "0.4", "extra"),
        ("2.1k", "2.15k", "same"),
        ("2.1k", "900", "lower"),
        ("open", "open", "same"),
        ("0.2", "", "to measure"),
        ("", "open", "to measure"),
    ],
)
def test_verdict_of_a_pair(good: str, suspect: str, verdict: str) -> None:
    found = _compared(f"1-A01,2-A01,{good},good\n1-A01,2-A01,{suspect},suspect\n")
    assert [pair.verdict for pair in found.pairs] == [verdict]
    assert found.differs == (verdict not in ("same", "to measure"))


def test_leads_are_taken_off_on_their_own_side() -> None:
    found = _compared("leads,leads,0.4,suspect\n1-A01,2-A01,0.2,good\n1-A01,2-A01,1.5,suspect\n")
    assert found.pairs[0].verdict == "same"
    assert found.pairs[0].raised_ohms == pytest.approx(0.9)


def test_raised_by_how_much() -> None:
    pair = _compared("4-B15,7-B15,0.2,good\n4-B15,7-B15,52.4,suspect\n").pairs[0]
    assert pair.raised_ohms == pytest.approx(52.2)


def test_a_pair_that_reads_differently_each_time_varies_and_is_told_with_both_lines() -> None:
    found = _compared("1-A01,2-A01,0.2,good\n1-A01,2-A01,0.3,suspect\n2-A01,1-A01,open,suspect\n")
    assert found.pairs[0].verdict == "varies"
    assert [(one.line, other.line) for one, other in found.twice] == [(3, 4)]


def test_pins_joined_over_others_on_good_are_evidence() -> None:
    rows = "1-A01,2-A01,0.2,good\n2-A01,3-A01,0.2,good\n1-A01,3-A01,open,suspect\n"
    pair = next(p for p in _compared(rows).pairs if (p.start, p.end) == ("1-A01", "3-A01"))
    assert (pair.verdict, pair.over) == ("open", ("good",))


def test_a_card_that_is_in_joins_no_net_of_the_bare_backplane() -> None:
    text = "from,to,ohms,side,note\n7-B04,7-A36,open,good,\n7-B04,7-A36,0.3,suspect,card in\n"
    found = compare_continuity(parse_continuity(text))
    assert {pair.verdict for pair in found.pairs} == {"to measure"}


def test_a_net_in_two_parts_and_what_parts_it() -> None:
    good = "".join(f"{a}-A01,{a + 1}-A01,0.2,good\n" for a in range(1, 5))
    suspect = good.replace("good", "suspect").replace("2-A01,3-A01,0.2", "2-A01,3-A01,open")
    found = _compared(good + suspect)
    assert [net.parts for net in found.split] == [(("1-A01", "2-A01"), ("3-A01", "4-A01", "5-A01"))]
    assert found.split[0].by[0].pair == ("2-A01", "3-A01")


def test_what_was_not_read_parts_no_net() -> None:
    found = _compared("1-A01,2-A01,0.2,good\n2-A01,3-A01,0.2,good\n1-A01,2-A01,0.2,suspect\n")
    assert not found.split
    assert not found.differs


def test_the_one_reading_that_joins_two_nets() -> None:
    nets = "1-A01,2-A01,0.2,{0}\n1-A02,2-A02,0.2,{0}\n"
    rows = nets.format("good") + "1-A01,1-A02,open,good\n" + nets.format("suspect") + "2-A01,2-A02,0.4,suspect\n"
    found = _compared(rows)
    assert len(found.joined) == 1
    assert found.joined[0].nets == (("1-A01", "2-A01"), ("1-A02", "2-A02"))
    assert found.joined[0].alone is not None
    assert found.joined[0].alone.pair == ("2-A01", "2-A02")
    both = _compared(rows + "1-A01,1-A02,0.4,suspect\n")
    assert both.joined[0].alone is None
    assert len(both.joined[0].by) == 2


def test_a_pin_that_is_parted_on_suspect_is_not_called_joined_too() -> None:
    good = "1-A01,2-A01,0.2,good\n2-A01,3-A01,0.2,good\n1-A02,2-A02,0.2,good\n2-A01,1-A02,open,good\n"
    suspect = "1-A01,2-A01,0.2,suspect\n2-A01,3-A01,open,suspect\n2-A01,1-A02,0.4,suspect\n"
    # 2-A02 was not read on suspect: nothing parts it from its net
    assert _compared(good + suspect).joined[0].nets == (("1-A01", "2-A01"), ("1-A02", "2-A02"))


def test_pins_that_good_never_read_apart_are_not_called_joined() -> None:
    rows = "1-A01,2-A01,0.2,good\n1-A02,2-A02,0.2,good\n2-A01,2-A02,0.4,suspect\n"
    found = _compared(rows)
    assert not found.joined
    assert not found.differs


def test_one_of_three_readings_is_wrong() -> None:
    found = _compared("1-A01,2-A01,0.2,good\n2-A01,3-A01,0.2,good\n1-A01,3-A01,open,good\n")
    conflict = found.conflicts[0]
    assert {r.line for r in (conflict.apart, *conflict.through)} == {2, 3, 4}
    assert conflict.again.line == 4


def test_a_joining_reading_that_two_others_contradict_is_read_again_first() -> None:
    rows = "1-A01,2-A01,0.2,good\n2-A01,3-A01,0.2,good\n3-A01,4-A01,0.2,good\n"
    rows += "1-A01,3-A01,open,good\n2-A01,4-A01,open,good\n"
    assert {conflict.again.line for conflict in _compared(rows).conflicts} == {3}


def _backplane(seed: int, pins: int, count: int) -> list[Reading]:
    drawn = random.Random(seed)
    names = [f"{1 + index // 72}-{'AB'[index // 36 % 2]}{1 + index % 36:02d}" for index in range(pins)]
    values = (0.2, 0.3, 0.2, math.inf, 47.0, None)
    return [Reading(*drawn.sample(names, 2), drawn.choice(values), "good") for _ in range(count)]


@pytest.mark.parametrize("seed", range(12))
def test_nets_are_the_connected_components(seed: int) -> None:
    """networkx, ``connected_components`` and ``shortest_path``."""
    networkx = pytest.importorskip("networkx")
    readings = _backplane(seed, 90, 20 + 12 * seed)
    graph = networkx.Graph()
    graph.add_nodes_from(pin for r in readings for pin in r.pair)
    graph.add_edges_from(r.pair for r in readings if r.ohms is not None and r.ohms < 1)
    nets = Nets(readings)
    assert {frozenset(net) for net in nets.nets()} == {frozenset(c) for c in networkx.connected_components(graph)}
    against = [r for r in readings if r.ohms is not None and r.ohms >= 1 and networkx.has_path(graph, *r.pair)]
    conflicts = nets.conflicts()
    assert [c.apart for c in conflicts] == against
    for conflict in conflicts:
        assert len(conflict.through) == networkx.shortest_path_length(graph, *conflict.apart.pair)


def test_a_list_against_itself_agrees() -> None:
    rows = [r for r in _backplane(5, 200, 150) if r.ohms is not None]
    both = ContinuityList((*rows, *(Reading(r.start, r.end, r.ohms, "suspect") for r in rows)))
    found = compare_continuity(both)
    assert {pair.verdict for pair in found.pairs} <= {"same", "varies"}
    assert not found.joined
    assert not found.split
