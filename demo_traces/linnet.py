"""The Linnet, an invented 12-bit process computer of discrete TTL, as seen at one of its slots.

It exists on paper only. Each cycle of its clock gives one level for each of the fifteen signals below.
The operand board sits in slot 7; what it receives on D00..D03 goes into the accumulator, so that a fault on one
of these pins has consequences: in later data, in indexed addresses, in the path the sequencer takes.
The length of every instruction is the same whichever way the data go; good and faulty machines stay in step, unless
the store of one makes it wait longer.
"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
from numpy.typing import NDArray

SIGNALS: tuple[str, ...] = (
    *("STB", "ACK", "D00", "D01", "D02", "D03", "READ"),
    *("ADDR00", "ADDR01", "ADDR02", "SEQ0", "SEQ1", "SEQ2", "RFSH", "WAIT"),
)
"""All but the clock, MCLK. STB and ACK are active low."""

ACTIVE_LOW = ("STB", "ACK")

Receiver = Callable[[int, int], int]
"""Cycle and the four bits on the bus -> the four bits that the operand board takes in."""

Waits = Callable[[int], int]
"""Cycle -> how many cycles the store makes the fetch of this cycle wait beyond what a sound one does."""

WORD, IDLE = 0xFFF, 0xF
_CONSTANTS, _SCRATCH = 256, 768
_LOAD, _ADD, _XOR, _STORE, _ROTATE, _INDEXED, _SELECT, _SKIP = range(8)
_REFRESH_EVERY, _REFRESH_CYCLES = 53, 3


class Linnet:
    """One machine from the moment it is switched on. ``words`` holds a row of levels for each cycle so far."""

    def __init__(
        self, seed: int, receiver: Receiver | None = None, first_cycle: int = 0, waits: Waits | None = None
    ) -> None:
        """``first_cycle`` is the number of the first cycle. Receiver and waits are told the cycle as a machine without
        further waits would count it."""
        rng = np.random.default_rng(seed)
        self.memory: list[int] = rng.integers(0, WORD + 1, 1024).tolist()
        self.memory[:_CONSTANTS] = _program(rng)
        self.words: list[tuple[int, ...]] = []
        self.first_cycle = first_cycle
        self.receiver: Receiver = receiver or (lambda cycle, bits: bits)
        self.waits: Waits = waits or (lambda cycle: 0)
        self.waited: list[int] = []
        self.pc = self.acc = 0
        self.feedback, self.refresh_row, self.since_refresh = 0xACE1, 0, 0

    def run(self, cycles: int) -> NDArray[np.uint8]:
        """Levels of ``SIGNALS``: uint8[len(SIGNALS), cycles]."""
        while len(self.words) < cycles:
            self._instruction()
        return np.array(self.words[:cycles], np.uint8).T.copy()

    @property
    def _now(self) -> int:
        return self.first_cycle + len(self.words) - len(self.waited)

    def _instruction(self) -> None:
        if self.since_refresh >= _REFRESH_EVERY:
            self._refresh()
        self._cycle(0, address=self.pc, read=1, strobe=1)
        # a quarter of the store is slow and makes the sequencer wait
        for _ in range(2 if self.pc & 0x30 == 0x20 else 0):
            self._cycle(1, address=self.pc, read=1, strobe=1, wait=1)
        for _ in range(self.waits(self._now)):
            self.waited.append(len(self.words))
            self._cycle(1, address=self.pc, read=1, strobe=1, wait=1)
            # the counter of the refresh stands still meanwhile
            self.since_refresh -= 1
        code = self.memory[self.pc]
        self._cycle(1, address=self.pc, read=1, strobe=1, acknowledge=1, bus=code)
        operation, argument = code >> 9, code & 0xFF
        self.pc = (self.pc + 1) % _CONSTANTS
        # a shift register with feedback decides how much is skipped: the sequence does not come round again. Mask and
        # first word are those of the usual printed example of 16 bits (from memory); it takes 65 535 words in turn
        self.feedback = (self.feedback >> 1) ^ (0xB400 if self.feedback & 1 else 0)
        if operation == _SKIP:
            self.pc = (self.pc + (self.feedback & 0x3F)) % _CONSTANTS
        self._execute(operation, argument)

    def _execute(self, operation: int, argument: int) -> None:
        if operation == _SELECT:
            first, second = (6, 7) if self.acc & 8 else (2, 3)
            self._cycle(first, address=argument, bus=self.acc)
            self._cycle(second, address=argument, bus=self.acc)
            return
        base = _SCRATCH if operation == _STORE or argument % 6 == 5 else _CONSTANTS
        at = base + (argument + (self.acc & 7 if operation == _INDEXED else 0)) % 256
        self._cycle(2, address=at)
        if operation == _STORE:
            self.memory[at] = self.acc
            self._cycle(3, address=at, strobe=1, acknowledge=1, bus=self.acc)
        elif operation in (_LOAD, _ADD, _XOR, _INDEXED):
            operand = self._read(at)
            mixed = {_ADD: self.acc + operand, _XOR: self.acc ^ operand}
            self.acc = mixed.get(operation, operand) & WORD
        elif operation == _ROTATE:
            self.acc = (self.acc >> 1) | (self.acc & 1) << 11
        self._cycle(4, address=at, bus=self.acc)

    def _read(self, at: int) -> int:
        """One operand, as the operand board takes it in."""
        word = self.memory[at]
        cycle = self._now
        self._cycle(3, address=at, read=1, strobe=1, acknowledge=1, bus=word)
        return (word & ~IDLE) | self.receiver(cycle, word & IDLE)

    def _refresh(self) -> None:
        self.refresh_row = (self.refresh_row + 1) % 64
        for _ in range(_REFRESH_CYCLES):
            self._cycle(0, address=self.refresh_row, refresh=1)
        self.since_refresh = 0

    def _cycle(
        self,
        step: int,
        *,
        address: int,
        bus: int = IDLE,
        read: int = 0,
        strobe: int = 0,
        acknowledge: int = 0,
        refresh: int = 0,
        wait: int = 0,
    ) -> None:
        """The bus is pulled up: without a driver it reads high."""
        bits = [bus >> i & 1 for i in range(4)]
        low_address = [address >> i & 1 for i in range(3)]
        low_step = [step >> i & 1 for i in range(3)]
        self.words.append((1 - strobe, 1 - acknowledge, *bits, read, *low_address, *low_step, refresh, wait))
        self.since_refresh += 1


def _program(rng: np.random.Generator) -> list[int]:
    """Instructions drawn so that the accumulator is loaded afresh often, and stores are few."""
    share = {_LOAD: 5, _ADD: 3, _XOR: 2, _STORE: 2, _ROTATE: 2, _INDEXED: 2, _SELECT: 3, _SKIP: 2}
    drawn = rng.choice(list(share), _CONSTANTS, p=np.array(list(share.values())) / sum(share.values()))
    arguments = rng.integers(0, 512, _CONSTANTS)
    return [int(operation) << 9 | int(argument) for operation, argument in zip(drawn, arguments, strict=True)]


def machine_words(
    seed: int, first_cycle: int, cycles: int, *, warm_up: int = 400, receiver: Receiver | None = None
) -> NDArray[np.uint8]:
    """Levels of ``SIGNALS`` from cycle ``first_cycle`` (not before -``warm_up``) on: uint8[len(SIGNALS), cycles].

    Cycle 0 lies ``warm_up`` cycles after switching on; ``receiver`` is told cycles in this numbering.
    """
    skip = warm_up + first_cycle
    if skip < 0:
        raise ValueError(f"cycle {first_cycle} lies before the machine was switched on; warm it up longer")
    machine = Linnet(seed, receiver, first_cycle=-warm_up)
    return machine.run(skip + cycles)[:, skip:]


def waiting_words(
    seed: int, first_cycle: int, cycles: int, waits: Waits, *, warm_up: int = 400, receiver: Receiver | None = None
) -> tuple[NDArray[np.uint8], NDArray[np.int64]]:
    """As ``machine_words`` for a machine that waits longer, from its cycle 0 on.

    Also gives int64[cycles]: the cycle of a sound machine that each one is, and for a further wait that of the cycle
    which waits.
    """
    machine = Linnet(seed, receiver, -warm_up, lambda cycle: waits(cycle) if cycle >= 0 else 0)
    skip = warm_up + first_cycle
    words = machine.run(skip + cycles)
    further = np.zeros(len(machine.words), np.int64)
    further[machine.waited] = 1
    number = np.arange(len(further)) - warm_up - np.cumsum(further) + further
    return words[:, skip:], number[skip : skip + cycles]
