"""One board of the invented machine, run cycle by cycle: microcode in a ROM, a three-state bus that floats, registers
with an enable, refresh, a slow store that makes it wait, a reset, and contents that come up at random."""

from __future__ import annotations

import random
from dataclasses import dataclass

import numpy as np

from tests.machine.faults import PAIRED, Fault, FaultyNet
from tests.machine.program import OPCODES, ROM, ROM_BYTES, Micro

WIDE = {"BUS": 8, "ADDR": 8, "ALU": 8, "OUTR": 8, "T": 3, "IR": 4, "PC": 8}
SINGLE = (
    "EPC", "EMEM", "EACC", "EX", "EALU", "EPORT", "LMAR", "LIR", "LACC", "LTMP", "LX", "LPC", "LOUT", "WRITE",
    "COUNT", "DOWN", "LFLAG", "LAST", "Z", "C", "WAIT", "RFSH", "RESET",
)  # fmt: skip
NETS = tuple(f"{name}{i}" for name, width in WIDE.items() for i in range(width)) + SINGLE
AT = {net: i for i, net in enumerate(NETS)}
REFRESH_EVERY, REFRESH_CYCLES = 53, 2
DECAY = 3  # cycles after which a bus that nobody drives reads high


@dataclass(frozen=True, slots=True)
class Setting:
    """How a board is run: ``lead`` cycles in reset, ``power`` seeds what registers and store come up with,
    ``waits`` seeds further wait cycles of the store (None: none)."""

    lead: int
    power: int = 0
    waits: int | None = None


class Board:
    """``run`` gives what the wires show; ``waited`` the further wait cycles."""

    def __init__(self, program: bytes, setting: Setting, fault: Fault | None, seed: int) -> None:
        rng = random.Random(setting.power)
        self.memory = bytearray(program) + bytearray(rng.randrange(256) for _ in range(256 - ROM_BYTES))
        self.acc, self.tmp, self.x, self.out, self.mar, self.pc = (rng.randrange(256) for _ in range(6))
        self.ir, self.step, self.z, self.c = rng.randrange(16), rng.randrange(8), rng.randrange(2), rng.randrange(2)
        self.refresh, self.waiting, self.floating, self.held = rng.randrange(REFRESH_EVERY), 0, 0, 255
        self.setting, self.fault = setting, fault
        self.faulty = FaultyNet(fault, seed)
        self.hooked = {} if fault is None else {_split(n)[0] for n in (fault.net, fault.other) if n}
        self._waits = random.Random(setting.waits) if setting.waits is not None else None
        self._drawn = 0
        self.waited: list[int] = []
        self.driven: dict[str, int] = {}

    def run(self, cycles: int) -> np.ndarray:
        """uint8[cycles, nets]."""
        levels = np.zeros((cycles, len(NETS)), np.uint8)
        twice = self.fault is not None and self.fault.kind in PAIRED
        for k in range(cycles):
            self.faulty.begin(k - self.setting.lead)
            row: dict[str, int] = {}
            held, floating = self.held, self.floating
            for _ in range(2 if twice else 1):
                # joined nets need to know what drives the other one
                self.held, self.floating = held, floating
                row = {}
                after = self._cycle(k, row)
            if self.fault is not None:
                self.faulty.end(self.driven.get(self.fault.net, 0))
            at = 0
            for name, width in WIDE.items():
                value = row[name]
                for bit in range(width):
                    levels[k, at + bit] = value >> bit & 1
                at += width
            for i, name in enumerate(SINGLE):
                levels[k, at + i] = row[name]
            self._edge(k, after)
        return levels

    def _net(self, row: dict[str, int], name: str, value: int) -> int:
        """Puts a value on the wires, and gives what is read from them."""
        row[name] = value
        if name not in self.hooked or self.fault is None:
            return value
        seen = wire = value
        for net, partner in ((self.fault.net, self.fault.other), (self.fault.other, self.fault.net)):
            if not net or _split(net)[0] != name or (net == self.fault.other and self.fault.kind not in PAIRED):
                continue
            bit = _split(net)[1]
            own = value >> bit & 1
            self.driven[net] = own
            on_wire, read = self.faulty.levels(own, self.driven.get(partner, own))
            wire = wire & ~(1 << bit) | on_wire << bit
            seen = seen & ~(1 << bit) | read << bit
        row[name] = wire
        return seen

    def _cycle(self, k: int, row: dict[str, int]) -> dict[str, int]:
        """All that happens between two edges; what registers take in at the next one."""
        net = lambda name, value: self._net(row, name, value)  # noqa: E731
        reset = net("RESET", int(k >= self.setting.lead))
        resting = net("RFSH", int(self.refresh >= REFRESH_EVERY - REFRESH_CYCLES))
        step, code = net("T", self.step), net("IR", self.ir)
        pc, address = net("PC", self.pc), net("ADDR", self.mar)
        m = ROM.get((code, step), Micro(last=True)) if not resting else Micro()
        sources = ("PC", "MEM", "ACC", "X", "ALU", "PORT")
        enabled = [net(f"E{s}", int(m.source == s)) for s in sources]
        z, c = net("Z", self.z), net("C", self.c)
        alu = net("ALU", self._alu(code))
        values = {"PC": pc, "MEM": self.memory[address], "ACC": self.acc, "X": self.x | 128, "ALU": alu}
        values["PORT"] = (k - self.setting.lead) * 37 >> 3 & 255
        driving = [values[s] for s, on in zip(sources, enabled, strict=True) if on]
        if driving:
            bus, self.floating = driving[0], 0
            for other in driving[1:]:
                bus &= other
        else:
            self.floating += 1
            bus = self.held if self.floating <= DECAY else 255
        self.held = bus
        bus = net("BUS", bus)
        slow = m.source == "MEM" and address % 5 == 0 and self.waiting < 2
        more = m.source == "MEM" and not slow and self._more_waits(k, resting)
        wait = net("WAIT", int(slow or more))
        loads = {s: net(f"L{s}", int(m.load == s)) for s in ("MAR", "IR", "ACC", "TMP", "X", "OUT")}
        loads["PC"] = net("LPC", int(m.load == "PC" or (m.load == "PCNZ" and not z)))
        loads["WRITE"] = net("WRITE", int(m.load == "MEM"))
        loads["COUNT"] = net("COUNT", int(m.count and not (m.load == "PCNZ" and not z)))
        loads["DOWN"], loads["FLAG"] = net("DOWN", int(m.down)), net("LFLAG", int(m.flags))
        loads["LAST"] = net("LAST", int(m.last))
        net("OUTR", self.out)
        loads |= {"bus": bus, "alu": alu, "addr": address, "pc": pc, "wait": wait, "rest": resting, "c": c}
        return loads | {"reset": reset}

    def _alu(self, code: int) -> int:
        name = OPCODES[code]
        by_name = {"ADD": self.acc + self.tmp, "SUB": self.acc - self.tmp, "XOR": self.acc ^ self.tmp}
        by_name |= {"AND": self.acc & self.tmp, "SHR": self.acc >> 1}
        return by_name.get(name, self.acc) & 255

    def _more_waits(self, k: int, resting: int) -> bool:
        if self._waits is None or resting or k < self.setting.lead:
            return False
        if self._drawn == 0 and self._waits.random() < 0.02:
            self._drawn = self._waits.randint(2, 5)
        self._drawn = max(0, self._drawn - 1)
        if self._drawn:
            self.waited.append(k)
        return self._drawn > 0

    def _edge(self, k: int, on: dict[str, int]) -> None:
        self.refresh = (self.refresh + 1) % REFRESH_EVERY
        if not on["reset"]:
            self.pc = self.step = self.refresh = self.waiting = 0
            return
        if on["rest"]:
            return
        if on["wait"]:
            self.waiting += 1
            return
        self.waiting = 0
        bus = on["bus"]
        if on["WRITE"] and on["addr"] >= ROM_BYTES:
            self.memory[on["addr"]] = bus
        if on["FLAG"]:
            self.z, self.c = int(on["alu"] == 0), int(self.acc + self.tmp > 255)
        for name, attribute in (("MAR", "mar"), ("ACC", "acc"), ("TMP", "tmp"), ("X", "x"), ("OUT", "out")):
            if on[name]:
                setattr(self, attribute, bus)
        if on["IR"]:
            self.ir = bus >> 4
        if on["DOWN"]:
            self.x = self.x - 1 & 127
            self.z = int(self.x == 0)
        self.pc = bus if on["PC"] else self.pc + on["COUNT"] & 255
        if self.pc >= ROM_BYTES:
            self.pc &= ROM_BYTES - 1
        self.step = 0 if on["LAST"] else self.step + 1 & 7


def _split(net: str) -> tuple[str, int]:
    """A net's word and bit."""
    name = net.rstrip("0123456789")
    return (name, int(net[len(name) :])) if name in WIDE else (net, 0)
