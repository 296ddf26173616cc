"""Contents that come up otherwise when power is switched on stand behind the fault; a stuck net is no such thing."""

from __future__ import annotations

import numpy as np

from tests.causes.test_causes import board
from tracecore.capture import UNKNOWN
from tracecore.causes.power_up import _moves, power_up
from tracecore.comparison import CompareRequest, Comparison, compare

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


def test_one_register_alone_says_nothing_of_power_up() -> None:
    good, suspect = drawn()
    for name in ("R1", "R2"):
        suspect[name] = good[name]
    found = compared(good, suspect)
    assert [c.signal for c in found.causes] == ["R0"]
    assert SAID not in " ".join(found.causes[0].because)
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
