"""Contents that come up otherwise when power is switched on stand behind the fault; a stuck net is no such thing."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import numpy as np
import pytest

from tests.causes.test_causes import board
from tests.machine.bench import draw_clean
from tracecore.capture import UNKNOWN
from tracecore.causes.power_up import _moves, power_up
from tracecore.circuit.wire_list import Wired, WireList
from tracecore.comparison import CompareRequest, Comparison, compare
from tracecore.outcome import Reason

CYCLES, LOADED = 400, 100
SAID = "come up otherwise"


def compared(good: dict[str, np.ndarray], suspect: dict[str, np.ndarray]) -> Comparison:
    sides = [board(own, dict.fromkeys(own, 30_000)) for own in (good, suspect)]
    return compare(CompareRequest((sides[0],), (sides[1],), clock="CLK", offset=0))


def drawn() -> tuple[dict[str, np.ndarray], dict[str, np.ndarray]]:
    """Three registers that are loaded at one cycle, and eleven nets beside them; on the suspect the registers hold the
    opposite until they are loaded."""
    rng = np.random.default_rng(3)
    good = {name: rng.integers(0, 2, CYCLES) for name in ("R0", "R1", "R2", "N", "M", *(f"S{i}" for i in range(9)))}
    for name in ("R0", "R1", "R2"):
        good[name][:LOADED] = 0
    suspect = {name: own.copy() for name, own in good.items()}
    for name in ("R0", "R1", "R2"):
        suspect[name][:LOADED] = 1
    return good, suspect


def test_registers_that_differ_until_they_are_loaded_stand_behind_the_fault() -> None:
    good, suspect = drawn()
    suspect["N"][200::9] ^= 1
    causes = compared(good, suspect).causes
    assert causes[0].signal == "N"
    assert {c.signal for c in causes[1:]} == {"R0", "R1", "R2"}
    assert all(any(SAID in why for why in c.because) for c in causes[1:])
    assert not any(SAID in why for why in causes[0].because)


def test_a_steady_delay_is_seen_although_registers_differ_before_it() -> None:
    good, suspect = drawn()
    # contents that differ are read later on
    suspect["M"][150::11] ^= 1
    sides = [board(own, dict.fromkeys(own, 30_000) | {"N": late}) for own, late in ((good, 30_000), (suspect, 130_000))]
    found = compare(CompareRequest((sides[0],), (sides[1],), clock="CLK", offset=0))
    assert found.causes[0].signal in ("N", "M")
    assert any("steadily late" in why for why in next(c for c in found.causes if c.signal == "N").because)


def test_a_net_that_is_stuck_from_the_start_did_not_come_up_otherwise() -> None:
    good, suspect = drawn()
    suspect["R2"][:] = 1
    found = compared(good, suspect)
    assert found.causes[0].signal == "R2"
    assert SAID not in " ".join(found.causes[0].because)


def test_a_net_that_is_inverted_throughout_did_not_come_up_otherwise() -> None:
    good, suspect = drawn()
    good["S0"][:50], good["S0"][50] = 0, 1
    suspect["S0"] = 1 - good["S0"]
    # what follows from it is wrong in the cycle in which it moves first
    for name in ("N", "M", "S1"):
        suspect[name][50::9] ^= 1
    causes = compared(good, suspect).causes
    assert causes[0].signal == "S0"
    assert SAID not in " ".join(causes[0].because)


def test_one_register_that_differs_until_it_is_loaded_and_nothing_else_may_hold_contents() -> None:
    good, suspect = drawn()
    for name in ("R1", "R2"):
        suspect[name] = good[name]
    found = compared(good, suspect)
    assert [c.signal for c in found.causes] == ["R0"]
    assert SAID in " ".join(found.causes[0].because)
    assert found.outcome.reason is Reason.CONTENTS


@pytest.mark.parametrize("signal", ["R0", "N"])
def test_one_register_beside_what_differs_later_says_nothing_of_power_up(signal: str) -> None:
    good, suspect = drawn()
    for name in ("R1", "R2"):
        suspect[name] = good[name]
    suspect[signal][300:] ^= 1
    found = compared(good, suspect)
    assert SAID not in " ".join(found.causes[0].because)
    assert found.outcome.word == "diverges"
    assert power_up({}, ("R0",)).wrong_at == {}


def with_contents_read(suspect: dict[str, np.ndarray]) -> dict[str, np.ndarray]:
    """What is read of contents that differ: three nets go wrong at once, long before and more often than any fault."""
    for name in ("S6", "S7", "S8"):
        suspect[name][110::6] ^= 1
    return suspect


def test_two_swapped_nets_stand_before_what_contents_make() -> None:
    good, suspect = drawn()
    with_contents_read(suspect)
    suspect["N"][200:], suspect["M"][200:] = good["M"][200:], good["N"][200:]
    assert {c.signal for c in compared(good, suspect).causes[:2]} == {"N", "M"}


def test_two_joined_nets_stand_before_what_contents_make() -> None:
    good, suspect = drawn()
    with_contents_read(suspect)
    suspect["N"] = suspect["M"] = good["N"] & good["M"]
    assert {c.signal for c in compared(good, suspect).causes[:2]} == {"N", "M"}


def test_a_register_that_is_undecided_as_it_is_loaded_came_up_otherwise() -> None:
    good = np.zeros(60, np.uint8)
    suspect = np.ones(60, np.uint8)
    suspect[30], suspect[31:] = UNKNOWN, 0
    assert _moves(suspect).nonzero()[0].tolist() == [30]
    assert not _moves(good).any()


def test_a_net_that_is_held_stands_before_what_is_loaded_from_it() -> None:
    good, suspect = drawn()
    with_contents_read(suspect)
    for at in range(LOADED, CYCLES):
        # S0 takes N every fourth cycle
        good["S0"][at] = good["N"][at - 1] if at % 4 == 0 else good["S0"][at - 1]
    suspect["S0"], suspect["N"] = good["S0"].copy(), good["N"].copy()
    suspect["N"][150:] = 0
    suspect["S0"][148:] = 0
    found = compared(good, suspect).causes
    assert [c.signal for c in found[:2]] == ["N", "S0"]


def test_a_machine_that_stops_holds_many_nets_and_none_of_them_is_the_cause() -> None:
    good, suspect = drawn()
    with_contents_read(suspect)
    suspect["N"][200::2] ^= 1
    suspect["N"][300:] = good["N"][300:]
    for name in ("S0", "S1", "S2", "S3"):
        suspect[name][300:] = 0
    causes = compared(good, suspect).causes
    assert causes[0].signal not in ("S0", "S1", "S2", "S3")


def test_what_contents_alone_may_make_is_not_called_a_fault() -> None:
    good, suspect = drawn()
    found = compared(good, with_contents_read(suspect)).outcome
    assert (found.word, found.reason) == ("cannot tell", Reason.CONTENTS)
    assert "write all memory first" in found.do
    assert set(found.signals) == {"R0", "R1", "R2", "S6", "S7", "S8"}


def test_each_cause_that_contents_may_make_says_so() -> None:
    good, suspect = drawn()
    found = compared(good, with_contents_read(suspect))
    assert all("came up otherwise" in " ".join(c.because) or SAID in " ".join(c.because) for c in found.causes)
    (told,) = (n for n in found.notices if n.code == "contents_differ")
    assert told.signals == ("R0", "R1", "R2")


def held_from(rows: dict[str, np.ndarray]) -> None:
    rows["N"][150:] = 0


def joined_with(rows: dict[str, np.ndarray]) -> None:
    rows["N"] = rows["M"] = rows["N"] & rows["M"]


@pytest.mark.parametrize("fault", [held_from, joined_with])
def test_what_contents_cannot_make_diverges_beside_them_and_comes_first(
    fault: Callable[[dict[str, np.ndarray]], None],
) -> None:
    good, suspect = drawn()
    fault(with_contents_read(suspect))
    found = compared(good, suspect)
    assert (found.outcome.word, found.causes[0].signal in ("N", "M")) == ("diverges", True)
    assert not found.causes[0].by_contents


def test_a_register_that_is_loaded_seldom_and_stands_still_may_hold_contents() -> None:
    good, suspect = drawn()
    good["R2"][LOADED:] = suspect["R2"][LOADED:] = 1
    good["R2"][200:260] = 0
    found = compared(good, suspect)
    assert found.signal("R2").fault_mode == "stuck high"
    assert found.outcome.reason is Reason.CONTENTS


def test_late_transitions_are_no_contents() -> None:
    good, suspect = drawn()
    with_contents_read(suspect)
    sides = [board(own, dict.fromkeys(own, 30_000) | {"N": late}) for own, late in ((good, 30_000), (suspect, 130_000))]
    found = compare(CompareRequest((sides[0],), (sides[1],), clock="CLK", offset=0))
    assert found.outcome.word == "diverges"


def test_among_several_captures_contents_alone_make_none_diverge() -> None:
    good, suspect = drawn()
    sides = [board(own, dict.fromkeys(own, 30_000)) for own in (good, good, with_contents_read(suspect))]
    sides[1] = replace(sides[1], name="again", sha256="2" * 64)
    found = compare(CompareRequest((sides[0],), tuple(sides[1:]), clock="CLK", offset=0))
    assert [own.word for own in found.captures] == ["agrees", "cannot tell"]
    assert found.outcome.word == "cannot tell"


@pytest.mark.parametrize("seed", [50008, 50024])
def test_sound_boards_that_came_up_otherwise_are_not_accused(seed: int) -> None:
    pair = draw_clean(seed, cycles=700, power_up_alike=False)
    found = compare(CompareRequest((pair.good,), (pair.suspect,), clock=pair.clock))
    assert found.outcome.reason is Reason.CONTENTS


def wired(good: dict[str, np.ndarray], suspect: dict[str, np.ndarray]) -> Comparison:
    """With a wire list: R0 takes S0 where S1 says so, N is S2 and S3."""
    rows = Wired("U1", "enabled register", "R0", ("S0", "S1")), Wired("U2", "gate", "N", ("S2", "S3"))
    sides = [board(own, dict.fromkeys(own, 30_000)) for own in (good, suspect)]
    return compare(CompareRequest((sides[0],), (sides[1],), clock="CLK", offset=0, wire_list=WireList(rows)))


def drawn_as_wired() -> tuple[dict[str, np.ndarray], dict[str, np.ndarray]]:
    """R0 is held in reset at first, whatever S1 says, and S0 is low."""
    good, suspect = drawn()
    good["S0"][:LOADED] = 0
    for at in range(LOADED, CYCLES):
        good["R0"][at] = good["S0"][at - 1] if good["S1"][at - 1] else good["R0"][at - 1]
    good["N"] = good["S2"] & good["S3"]
    suspect |= {name: good[name].copy() for name in ("S0", "N")}
    suspect["R0"][LOADED:] = good["R0"][LOADED:]
    return good, with_contents_read(suspect)


def test_a_register_breaks_no_table_before_it_is_loaded() -> None:
    found = wired(*drawn_as_wired())
    assert not any("breaks it" in why for c in found.causes for why in c.because)
    assert found.outcome.reason is Reason.CONTENTS


def test_a_part_that_breaks_its_table_later_than_contents_are_read_diverges_and_comes_first() -> None:
    good, suspect = drawn_as_wired()
    suspect["N"][[300, 330]] ^= 1
    found = wired(good, suspect)
    assert (found.outcome.word, found.causes[0].signal) == ("diverges", "N")
    assert "breaks it" in found.causes[0].because[1]
