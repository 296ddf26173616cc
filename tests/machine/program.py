"""Random programs for the invented machine, as bytes, and the microcode that runs them."""

from __future__ import annotations

import random
from typing import NamedTuple

ROM_BYTES = 128
OPCODES = (
    "LDI",
    "LDA",
    "STA",
    "ADD",
    "SUB",
    "XOR",
    "AND",
    "JMP",
    "JNZ",
    "LDX",
    "DEX",
    "STI",
    "LDN",
    "SHR",
    "OUT",
    "INP",
)
LONG = {"LDI", "LDA", "STA", "ADD", "SUB", "XOR", "AND", "JMP", "JNZ", "LDX"}
"""Instructions of two bytes."""


class Micro(NamedTuple):
    """One step: who drives the bus, who takes it in at the next edge, and what else happens."""

    source: str = ""  # PC, MEM, ACC, X, ALU, PORT; empty: the bus floats
    load: str = ""  # MAR, IR, ACC, TMP, X, PC, PCNZ, OUT, MEM
    count: bool = False
    down: bool = False
    flags: bool = False
    last: bool = False


_FETCH = (Micro("PC", "MAR"), Micro("MEM", "IR", count=True))
_OPERAND = (Micro("PC", "MAR"),)
_DIRECT = (Micro("PC", "MAR"), Micro("MEM", "MAR", count=True))
_ALU = (*_DIRECT, Micro("MEM", "TMP"), Micro("ALU", "ACC", flags=True, last=True))
MICROCODE: dict[str, tuple[Micro, ...]] = {
    "LDI": (*_OPERAND, Micro("MEM", "ACC", count=True, last=True)),
    "LDA": (*_DIRECT, Micro("MEM", "ACC", last=True)),
    "STA": (*_DIRECT, Micro("ACC", "MEM", last=True)),
    **dict.fromkeys(("ADD", "SUB", "XOR", "AND"), _ALU),
    "JMP": (*_OPERAND, Micro("MEM", "PC", last=True)),
    "JNZ": (*_OPERAND, Micro("MEM", "PCNZ", count=True, last=True)),
    "LDX": (*_OPERAND, Micro("MEM", "X", count=True, last=True)),
    "DEX": (Micro("", "", down=True), Micro(last=True)),
    "STI": (Micro("X", "MAR"), Micro("ACC", "MEM", last=True)),
    "LDN": (Micro("X", "MAR"), Micro("MEM", "ACC", last=True)),
    "SHR": (Micro("ALU", "ACC", flags=True, last=True),),
    "OUT": (Micro("ACC", "OUT", last=True),),
    "INP": (Micro("PORT", "ACC", last=True),),
}
ROM = {(code, step): m for code, name in enumerate(OPCODES) for step, m in enumerate((*_FETCH, *MICROCODE[name]))}


def random_program(rng: random.Random, tight: bool = False) -> bytes:
    """A prologue, counted loops of random work, and a jump back behind the prologue; ``tight``: one short loop that
    turns without end."""
    code: list[int] = []

    def emit(name: str, operand: int = 0) -> None:
        code.append(OPCODES.index(name) << 4 | rng.randrange(16))
        if name in LONG:
            code.append(operand)

    def work(count: int) -> None:
        for _ in range(count):
            name = rng.choice(
                ("LDI", "LDA", "STA", "STA", "ADD", "ADD", "SUB", "XOR", "AND", "STI", "LDN", "SHR", "OUT", "INP")
            )
            emit(name, rng.randrange(ROM_BYTES, 256) if name in ("STA",) else rng.randrange(64, 256))

    work(rng.randint(2, 6))
    again = len(code)
    if tight:
        work(rng.randint(1, 3))
    else:
        while len(code) < ROM_BYTES - 28:
            emit("LDX", rng.randint(2, 30))
            top = len(code)
            work(rng.randint(1, 6))
            emit("DEX")
            emit("JNZ", top)
            work(rng.randint(0, 3))
    emit("JMP", again)
    code += [rng.randrange(256) for _ in range(ROM_BYTES - len(code))]
    return bytes(code[:ROM_BYTES])
