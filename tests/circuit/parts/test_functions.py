"""Every part against its published function table: all input states, or the published sequence.

Sources are those of ``parts.toml`` for each part; the reference beside is written from what a table means in numbers.
"""

from __future__ import annotations

from itertools import islice, product

import numpy as np
import pytest

from tests.circuit.parts.reference import COMBINATIONAL, MEMORIES, Pins, alu
from tracecore.circuit.parts.catalogue import all_parts, exact_number, family_of, find_part, plain_number, sources
from tracecore.circuit.parts.delays import part_times
from tracecore.circuit.parts.logic3 import tri
from tracecore.circuit.parts.one_shot import ONE_SHOTS
from tracecore.circuit.parts.outputs import input_names, output_values
from tracecore.circuit.parts.registers import STORES, Store, stores_of
from tracecore.errors import RequestError

_MOST = 1 << 14


def _states(names: tuple[str, ...]) -> np.ndarray:
    """All input states, or as many drawn ones where there are too many."""
    if 1 << len(names) <= _MOST:
        return np.array(list(product((0, 1), repeat=len(names))), np.uint8)
    return np.random.default_rng(1).integers(0, 2, (_MOST, len(names))).astype(np.uint8)


@pytest.mark.parametrize("number", [n for n in COMBINATIONAL if n != "74181"])
def test_combinational_part_is_as_its_table(number: str) -> None:
    part = find_part(number)
    names = input_names(part, number)
    states = _states(names)
    values = {name: tri(states[:, k]) for k, name in enumerate(names)}
    shown = {n: found.value(values).levels for n, found in output_values(part, number).items()}
    on = {n: found.value(values).levels for n, found in part.enables.items()}
    for row, state in enumerate(states.tolist()):
        want = COMBINATIONAL[number](dict(zip(names, state, strict=True)))
        if any(want.get(name, 1) < level for name, level in zip(names, state, strict=True)):
            # a bus line that this chip pulls cannot be high
            continue
        for name, levels in shown.items():
            if name in on and not on[name][row]:
                assert name not in want
            else:
                assert levels[row] == want[name], (name, dict(zip(names, state, strict=True)))


def test_all_16384_states_of_the_alu_against_arithmetic() -> None:
    """TI SDLS136, tables 1 and 2: 16 logic and 16 arithmetic functions of two words of 4 bits."""
    part = find_part("74181")
    names = input_names(part, "74181")
    states = _states(names)
    assert len(states) == 16_384
    values = {name: tri(states[:, k]) for k, name in enumerate(names)}
    shown = {n: found.value(values).levels.tolist() for n, found in output_values(part, "74181").items()}
    for row, state in enumerate(states.tolist()):
        want = alu(dict(zip(names, state, strict=True)))
        assert {n: levels[row] for n, levels in shown.items()} == want


def test_all_2048_states_of_the_comparator_are_tried() -> None:
    assert len(_states(input_names(find_part("7485"), "7485"))) == 2048


def test_there_are_51_parts_and_each_is_checked() -> None:
    numbers = [part.number for part in all_parts()]
    assert len(numbers) == 51
    assert set(numbers) == set(COMBINATIONAL) | set(MEMORIES) | set(ONE_SHOTS)
    assert set(STORES) == set(MEMORIES)


@pytest.mark.parametrize("part", all_parts(), ids=lambda part: part.number)
def test_legs_are_whole_and_sources_are_named(part) -> None:
    assert sorted(part.pins) == list(range(1, len(part.pins) + 1))
    assert (part.pins[part.vcc], part.pins[part.gnd]) == ("VCC", "GND")
    signals = list(part.signals.values())
    assert len(signals) == len(set(signals))
    used = set(input_names(part, part.number)) | set(output_values(part, part.number))
    assert used == set(signals)
    words = part.sources.replace(";", " ").replace(",", " ").split()
    assert any(word in sources() for word in words) or part.sure == "memory"


class _Bench:
    """Drives a store as a chip on a bench: known levels, one change at a time."""

    def __init__(self, number: str) -> None:
        self.stores: tuple[Store, ...] = stores_of(f"{number} no plain type", number)
        self.now: Pins = dict.fromkeys((pin for store in self.stores for pin in store.pins), 0)
        self.states = [store.unknown for store in self.stores]

    def put(self, **levels: int) -> list[int]:
        for pin, level in levels.items():
            before = dict(self.now)
            self.now[pin] = level
            for k, store in enumerate(self.stores):
                if pin in store.clocks and level == store.clocks[pin] != before[pin]:
                    self.states[k] = store.after_edge(self.states[k], pin, before)
                if pin in store.levels:
                    self.states[k] = store.after_level(self.states[k], self.now)
        return self.shown()

    def clock(self, pin: str = "CLK") -> list[int]:
        self.put(**{pin: 1 - self.stores[0].clocks[pin]})
        return self.put(**{pin: self.stores[0].clocks[pin]})

    def shown(self) -> list[int]:
        return [
            bit for store, state in zip(self.stores, self.states, strict=True) for bit in store.shown(state, self.now)
        ]


def _number(bits: list[int]) -> int:
    return sum(bit << k for k, bit in enumerate(bits))


@pytest.mark.parametrize("number", ["74161", "74163"])
def test_the_typical_sequence_of_the_binary_counters(number: str) -> None:
    """TI SDLS060, typical clear, preset, count and inhibit sequences: clear, preset to 12, count 13 14 15 0 1 2."""
    bench = _Bench(number)
    bench.put(LOAD_n=1, ENP=0, ENT=0, CLR_n=1)
    bench.put(CLR_n=0)
    if number == "74163":
        assert bench.shown() == [2, 2, 2, 2]
        bench.clock()
    assert bench.shown() == [0, 0, 0, 0]
    bench.put(CLR_n=1, A=0, B=0, C=1, D=1, LOAD_n=0)
    assert _number(bench.clock()) == 12
    bench.put(LOAD_n=1, ENP=1, ENT=1)
    assert [_number(bench.clock()) for _ in range(6)] == [13, 14, 15, 0, 1, 2]
    bench.put(ENP=0)
    assert _number(bench.clock()) == 2


def test_the_typical_sequence_of_the_up_down_counter() -> None:
    """74193, TTL Data Book vol. 2 (second-hand): clear, load 13, up 14 15 0 1 2, down 1 0 15 14 13."""
    bench = _Bench("74193")
    bench.put(UP=1, DOWN=1, LOAD_n=1)
    assert bench.put(CLR=1) == [0, 0, 0, 0]
    bench.put(CLR=0, A=1, B=0, C=1, D=1)
    assert _number(bench.put(LOAD_n=0)) == 13
    bench.put(LOAD_n=1)
    assert [_number(bench.clock("UP")) for _ in range(5)] == [14, 15, 0, 1, 2]
    assert [_number(bench.clock("DOWN")) for _ in range(5)] == [1, 0, 15, 14, 13]


def test_the_shift_registers_shift() -> None:
    """74164: QA takes A and B. TI SDLS075, 74194: right toward QD, left toward QA, load, hold."""
    bench = _Bench("74164")
    bench.put(CLR_n=1)
    bench.put(CLR_n=0)
    bench.put(CLR_n=1, A=1)
    fed = (1, 1, 0, 1, 0, 0, 1, 0)
    for bit in fed:
        bench.put(B=bit)
        bench.clock()
    assert bench.shown() == list(reversed(fed))
    bench = _Bench("74194")
    bench.put(CLR_n=0)
    bench.put(CLR_n=1, S0=1, S1=1, A=1, B=0, C=0, D=1)
    assert bench.clock() == [1, 0, 0, 1]
    bench.put(S1=0, SR=0)
    assert bench.clock() == [0, 1, 0, 0]
    bench.put(S0=0, S1=1, SL=1)
    assert bench.clock() == [1, 0, 0, 1]
    bench.put(S1=0)
    assert bench.clock() == [1, 0, 0, 1]


def test_flip_flops_as_their_function_tables() -> None:
    """TI SDLS119 (7474) and SDLS011 (74112)."""
    bench = _Bench("7474")
    assert bench.put(PRE1_n=0, CLR1_n=1, PRE2_n=1, CLR2_n=0) == [1, 0, 0, 1]
    bench.put(PRE1_n=1, CLR2_n=1, D1=0, D2=1)
    bench.put(CLK1=1, CLK2=1)
    assert bench.shown() == [0, 1, 1, 0]
    # both low drives both outputs high; let go one after the other, the later wins
    assert bench.put(PRE1_n=0, CLR1_n=0)[:2] == [1, 1]
    assert bench.put(PRE1_n=1)[:2] == [0, 1]
    bench = _Bench("74112")
    bench.put(PRE1_n=1, CLR1_n=0, PRE2_n=1, CLR2_n=0)
    bench.put(CLR1_n=1, CLR2_n=1, CLK1=1)
    for j, k, q in ((1, 0, 1), (0, 0, 1), (1, 1, 0), (1, 1, 1), (0, 1, 0)):
        bench.put(J1=j, K1=k)
        assert bench.clock("CLK1")[:2] == [q, 1 - q]


def test_what_is_not_known_is_not_guessed() -> None:
    bench = _Bench("74161")
    bench.put(CLR_n=1, LOAD_n=1, ENP=1, ENT=1)
    assert bench.clock() == [2, 2, 2, 2]
    store = bench.stores[0]
    now = {**bench.now, "ENT": 2}
    assert store.after_edge((1, 1, 0, 0), "CLK", now) == (2, 2, 2, 0)
    assert store.after_edge((0, 1, 0, 0), "CLK", now) == (2, 1, 0, 0)
    assert store.after_edge((1, 0, 0, 0), "CLK", {**now, "LOAD_n": 0, "ENT": 1, "A": 2}) == (2, 0, 0, 0)


def test_a_memory_gives_back_the_complement_of_what_was_written() -> None:
    """DM74S189: the complement of the stored word."""
    bench = _Bench("74189")
    bench.put(CS_n=1, WE_n=1)
    for at in range(16):
        bench.put(**{f"A{k}": at >> k & 1 for k in range(4)}, **{f"D{k + 1}": (at ^ 9) >> k & 1 for k in range(4)})
        bench.put(CS_n=0, WE_n=0)
        bench.put(WE_n=1, CS_n=1)
    for at in range(16):
        shown = bench.put(**{f"A{k}": at >> k & 1 for k in range(4)})
        assert _number(shown) == 15 - (at ^ 9)


@pytest.mark.parametrize(
    ("text", "number", "family"),
    [("SN74LS138N", "74138", "74LS"), ("74s181", "74181", "74S"), ("DM8838N", "8838", ""), ("5474", "7474", "74"),
     ("74LS74", "7474", "74LS"), ("74LS51", "74LS51", "74LS"), ("74L74", "7474", "74L")],
)  # fmt: skip
def test_numbers_as_they_are_printed_on_chips(text: str, number: str, family: str) -> None:
    part = find_part(text)
    assert part.number == number
    assert family_of(exact_number(text, part)) == family


@pytest.mark.parametrize("text", ["7499", "74LS999", "abc", ""])
def test_an_unknown_number_is_told_with_near_ones(text: str) -> None:
    with pytest.raises(RequestError, match=r"The table has no part .*--list"):
        find_part(text)
    if text == "7499":
        with pytest.raises(RequestError, match="Near are"):
            find_part(text)


@pytest.mark.parametrize(
    ("number", "settle_ns"),
    [("7400", 22), ("74LS138", 41), ("7474", 40), ("74S74", 13.5), ("74161", 38), ("74LS181", 50)],
)
def test_settling_is_the_published_maximum(number: str, settle_ns: float) -> None:
    """TI SDLS025D, SDLS014, SDLS119, SDLS060: the longest propagation delay at 15 pF."""
    times = part_times(number, find_part(number))
    if number == "74LS181":
        assert times.settle_ps >= settle_ns * 1000
    else:
        assert times.settle_ps == settle_ns * 1000
    assert plain_number(times.settle_of) == number


def test_every_number_has_a_settling_time() -> None:
    for part in all_parts():
        for number in part.numbers:
            times = part_times(number, part)
            assert 3_000 <= times.settle_ps <= 150_000
    assert list(islice((p.number for p in all_parts()), 1)) == ["7400"]
