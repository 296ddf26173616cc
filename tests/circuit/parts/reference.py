"""The parts once more, written from what their function tables mean in numbers, and nothing of the program's.

``COMBINATIONAL`` gives outputs from inputs; a missing output is in high impedance. ``MEMORIES`` are classes that take
one change of an input at a time. Tables: TI data sheets as named in ``tracecore/circuit/parts/sources.csv``, per part.
"""

from __future__ import annotations

from collections.abc import Callable

Pins = dict[str, int]


def _gates(
    count: int, function: Callable[[list[int]], int], inputs: str, single: bool = False
) -> Callable[[Pins], Pins]:
    def outputs(i: Pins) -> Pins:
        if single:
            return {"Y": function([i[x] for x in inputs])}
        return {f"Y{n}": function([i[f"{x}{n}"] for x in inputs]) for n in range(1, count + 1)}

    return outputs


def _nand(v: list[int]) -> int:
    return int(not all(v))


def _nor(v: list[int]) -> int:
    return int(not any(v))


def _decoder(
    count: int, code: Callable[[Pins], int], on: Callable[[Pins], bool], name: str = "Y"
) -> Callable[[Pins], Pins]:
    return lambda i: {f"{name}{k}": int(not (on(i) and code(i) == k)) for k in range(count)}


def _word(i: Pins, letter: str, bits: str = "0123") -> int:
    return sum(i[f"{letter}{k}"] << place for place, k in enumerate(bits))


def _aoi(*groups: tuple[str, ...]) -> Callable[[Pins], int]:
    return lambda i: int(not any(all(i[x] for x in group) for group in groups))


def alu(i: Pins) -> Pins:
    """SDLS136, tables 1 and 2, active-high data; carries and P, G by adding in whole numbers."""
    s, a, b, m, cn = _word(i, "S"), _word(i, "A"), _word(i, "B"), i["M"], i["CN"]
    nb, na = ~b & 15, ~a & 15
    logic = (na, na & nb, na & b, 0, na | nb, nb, a ^ b, a & nb, na | b, 15 - (a ^ b), b, a & b, 15, a | nb, a | b, a)
    arithmetic = (
        a, a | b, a | nb, 15, a + (a & nb), (a | b) + (a & nb), a - b - 1, (a & nb) - 1, a + (a & b), a + b,
        (a | nb) + (a & b), (a & b) - 1, a + a, (a | b) + a, (a | nb) + a, a - 1,
    )  # fmt: skip
    f = (logic[s] if m else arithmetic[s] + (1 - cn)) & 15
    # the two words that the carry chain adds: each function is x plus y plus carry (SDLS136, functional diagram)
    x = a | (b if s & 1 else 0) | (nb if s & 2 else 0)
    y = (a & nb if s & 4 else 0) | (a & b if s & 8 else 0)
    total = x + y + (1 - cn)
    out = {f"F{k}": f >> k & 1 for k in range(4)}
    out["AEQB"] = int(f == 15)
    out["CN4"] = int(total <= 15)
    # CN4 = not G, or not P and CN: G is low where no carry can come out, P is low where no bit makes one by itself
    out["G"] = int(x + y + 1 > 15)
    out["P"] = int(y != 0)
    return out


def _compare(i: Pins) -> Pins:
    a, b, lt, eq, gt = _word(i, "A"), _word(i, "B"), i["IALTB"], i["IAEQB"], i["IAGTB"]
    if a != b:
        return {"OAGTB": int(a > b), "OALTB": int(a < b), "OAEQB": 0}
    if eq:
        return {"OAGTB": 0, "OALTB": 0, "OAEQB": 1}
    return {"OAGTB": int(not lt), "OALTB": int(not gt), "OAEQB": 0}


def _carries(i: Pins) -> Pins:
    g, p, c = [1 - i[f"G{k}_n"] for k in range(4)], [1 - i[f"P{k}_n"] for k in range(4)], i["CN"]
    out = {}
    for k, name in enumerate(("CNX", "CNY", "CNZ")):
        c = g[k] | (p[k] & c)
        out[name] = c
    made = 0
    for k in range(4):
        made = g[k] | (p[k] & made)
    return {**out, "P_n": int(not all(p)), "G_n": 1 - made}


def _octal(inverts: bool, second_high: bool) -> Callable[[Pins], Pins]:
    def outputs(i: Pins) -> Pins:
        out = {}
        for group in "12":
            gate = "G2" if second_high and group == "2" else f"G{group}_n"
            if i[gate] == (1 if gate == "G2" else 0):
                out |= {f"Y{group}_{k}": i[f"A{group}_{k}"] ^ inverts for k in range(1, 5)}
        return out

    return outputs


def _ways(i: Pins) -> Pins:
    if i["G_n"]:
        return {}
    return {f"B{k}": i[f"A{k}"] for k in range(1, 9)} if i["DIR"] else {f"A{k}": i[f"B{k}"] for k in range(1, 9)}


def _bus(i: Pins) -> Pins:
    out = {}
    for k in range(1, 5):
        drives = i[f"IN{k}"] and not i["DIS_A"] and not i["DIS_B"]
        out[f"BUS{k}"] = int(not drives)
        out[f"OUT{k}"] = 1 - (i[f"BUS{k}"] & out[f"BUS{k}"])
    return out


def _of_eight(i: Pins) -> Pins:
    y = int(not i["G_n"] and i[f"D{i['A'] + 2 * i['B'] + 4 * i['C']}"])
    return {"Y": y, "W": 1 - y}


_TWO, _FOUR = _gates(4, _nand, "AB"), _gates(2, _nand, "ABCD")
_SIX = lambda i: {f"Y{k}": 1 - i[f"A{k}"] for k in range(1, 7)}  # noqa: E731
_select = lambda i: {f"Y{k}": int(not i["G_n"] and i[f"{'B' if i['S'] else 'A'}{k}"]) for k in range(1, 5)}  # noqa: E731
COMBINATIONAL: dict[str, Callable[[Pins], Pins]] = {
    "7400": _TWO, "7437": _TWO, "7438": _TWO, "7439": _TWO, "74132": _TWO, "8881": _TWO,
    "7402": _gates(4, _nor, "AB"), "8640": _gates(4, _nor, "AB"),
    "7404": _SIX, "7414": _SIX,
    "7408": _gates(4, lambda v: int(all(v)), "AB"), "7432": _gates(4, lambda v: int(any(v)), "AB"),
    "7486": _gates(4, lambda v: sum(v) % 2, "AB"),
    "7410": _gates(3, _nand, "ABC"), "7413": _FOUR, "7420": _FOUR, "7440": _FOUR,
    "7430": _gates(1, _nand, "ABCDEFGH", single=True),
    "7442": _decoder(10, lambda i: i["A"] + 2 * i["B"] + 4 * i["C"] + 8 * i["D"], lambda i: True),
    "7451": lambda i: {"Y1": _aoi(("A1", "B1"), ("C1", "D1"))(i), "Y2": _aoi(("A2", "B2"), ("C2", "D2"))(i)},
    "74LS51": lambda i: {
        "Y1": _aoi(("A1", "B1", "C1"), ("D1", "E1", "F1"))(i), "Y2": _aoi(("A2", "B2"), ("C2", "D2"))(i)
    },
    "74S64": lambda i: {
        "Y": _aoi(("A1", "A2"), ("B1", "B2", "B3"), ("C1", "C2"), ("D1", "D2", "D3", "D4"))(i)
    },
    "7485": _compare,
    "74138": _decoder(8, lambda i: i["A"] + 2 * i["B"] + 4 * i["C"],
                      lambda i: bool(i["G1"]) and not i["G2A_n"] and not i["G2B_n"]),
    "74139": lambda i: {
        f"Y{g}_{k}": int(not (not i[f"G{g}_n"] and i[f"A{g}"] + 2 * i[f"B{g}"] == k)) for g in "12" for k in range(4)
    },
    "74151": _of_eight,
    "74153": lambda i: {f"Y{g}": int(not i[f"G{g}_n"] and i[f"C{g}_{i['A'] + 2 * i['B']}"]) for g in "12"},
    "74157": _select, "74158": lambda i: {name: 1 - level for name, level in _select(i).items()},
    "74181": alu, "74182": _carries,
    "74240": _octal(True, False), "74241": _octal(False, True), "74244": _octal(False, False), "74245": _ways,
    "8838": _bus,
    "8837": lambda i: {f"Y{k}": int(not i[f"A{k}"] and not i[f"DIS_{1 if k < 4 else 2}"]) for k in range(1, 7)},
}  # fmt: skip


class Memory:
    """A part with a memory: ``change`` takes one input's new level in, ``outputs`` tells what stands at its legs."""

    def __init__(self) -> None:
        self.value: dict[object, int] = {}

    def change(self, pin: str, i: Pins) -> None:
        """``i`` holds the levels after the change; data that an edge takes may be altered by the caller before."""

    def outputs(self, i: Pins) -> Pins:
        raise NotImplementedError


class FlipFlops(Memory):
    """SDLS119, SDLS011: function tables."""

    def __init__(self, jk: bool) -> None:
        super().__init__()
        self.jk, self.value = jk, {"1": 0, "2": 1}

    def change(self, pin: str, i: Pins) -> None:
        for n in "12":
            pre, clr = i[f"PRE{n}_n"], i[f"CLR{n}_n"]
            if pin == f"CLK{n}" and pre and clr and i[pin] == (0 if self.jk else 1):
                if self.jk:
                    j, k, q = i[f"J{n}"], i[f"K{n}"], self.value[n]
                    self.value[n] = (j and not q) or (not k and q)
                    self.value[n] = int(self.value[n])
                else:
                    self.value[n] = i[f"D{n}"]
            if not pre:
                self.value[n] = 1
            elif not clr:
                self.value[n] = 0

    def outputs(self, i: Pins) -> Pins:
        out = {}
        for n in "12":
            both = not i[f"PRE{n}_n"] and not i[f"CLR{n}_n"]
            out[f"Q{n}"] = 1 if both else self.value[n]
            out[f"Q{n}_n"] = 1 if both else 1 - self.value[n]
        return out


class Counter(Memory):
    """SDLS060: 74161 clears at once, 74163 at the clock."""

    def __init__(self, at_once: bool) -> None:
        super().__init__()
        self.at_once, self.n = at_once, 6

    def change(self, pin: str, i: Pins) -> None:
        if pin == "CLK" and i["CLK"]:
            if not i["CLR_n"]:
                self.n = 0
            elif not i["LOAD_n"]:
                self.n = i["A"] + 2 * i["B"] + 4 * i["C"] + 8 * i["D"]
            elif i["ENP"] and i["ENT"]:
                self.n = (self.n + 1) % 16
        if self.at_once and not i["CLR_n"]:
            self.n = 0

    def outputs(self, i: Pins) -> Pins:
        return {f"Q{x}": self.n >> k & 1 for k, x in enumerate("ABCD")} | {"RCO": int(self.n == 15 and i["ENT"])}


class UpDown(Memory):
    """74193, TTL Data Book vol. 2 (second-hand)."""

    n = 9

    def change(self, pin: str, i: Pins) -> None:
        if pin == "UP" and i["UP"] and i["DOWN"]:
            self.n = (self.n + 1) % 16
        if pin == "DOWN" and i["DOWN"] and i["UP"]:
            self.n = (self.n - 1) % 16
        if not i["LOAD_n"]:
            self.n = i["A"] + 2 * i["B"] + 4 * i["C"] + 8 * i["D"]
        if i["CLR"]:
            self.n = 0

    def outputs(self, i: Pins) -> Pins:
        out = {f"Q{x}": self.n >> k & 1 for k, x in enumerate("ABCD")}
        return out | {"CO_n": int(not (self.n == 15 and not i["UP"])), "BO_n": int(not (self.n == 0 and not i["DOWN"]))}


class Shifter(Memory):
    """74164."""

    bits = "00101100"

    def change(self, pin: str, i: Pins) -> None:
        if pin == "CLK" and i["CLK"]:
            self.bits = str(i["A"] & i["B"]) + self.bits[:7]
        if not i["CLR_n"]:
            self.bits = "0" * 8

    def outputs(self, i: Pins) -> Pins:
        return {f"Q{x}": int(self.bits[k]) for k, x in enumerate("ABCDEFGH")}


class BothWays(Memory):
    """SDLS075: function table of the 194."""

    bits = "0110"

    def change(self, pin: str, i: Pins) -> None:
        if pin == "CLK" and i["CLK"]:
            mode = 2 * i["S1"] + i["S0"]
            load = "".join(str(i[x]) for x in "ABCD")
            self.bits = (self.bits, str(i["SR"]) + self.bits[:3], self.bits[1:] + str(i["SL"]), load)[mode]
        if not i["CLR_n"]:
            self.bits = "0000"

    def outputs(self, i: Pins) -> Pins:
        return {f"Q{x}": int(self.bits[k]) for k, x in enumerate("ABCD")}


class Registers(Memory):
    """SDLS068A, SDLS165B: rows of D flip-flops; 74298 takes one of two words at the falling edge."""

    def __init__(self, kind: str) -> None:
        super().__init__()
        self.kind = kind
        self.value = {n: n % 2 for n in range(1, {"74174": 6, "74175": 4, "74374": 8, "74298": 4}[kind] + 1)}

    def change(self, pin: str, i: Pins) -> None:
        if pin == "CLK" and i["CLK"] == (0 if self.kind == "74298" else 1):
            if self.kind == "74298":
                self.value = {n: i["ABCD"[n - 1] + ("2" if i["WS"] else "1")] for n in self.value}
            else:
                self.value = {n: i[f"D{n}"] for n in self.value}
        if "CLR_n" in i and not i["CLR_n"]:
            self.value = dict.fromkeys(self.value, 0)

    def outputs(self, i: Pins) -> Pins:
        if self.kind == "74298":
            return {f"Q{'ABCD'[n - 1]}": level for n, level in self.value.items()}
        if self.kind == "74374" and i["OC_n"]:
            return {}
        out = {f"Q{n}": level for n, level in self.value.items()}
        return out | ({f"Q{n}_n": 1 - level for n, level in self.value.items()} if self.kind == "74175" else {})


class Latches(Memory):
    """SDLS165B: the 373."""

    def __init__(self) -> None:
        super().__init__()
        self.value = {n: n % 2 for n in range(1, 9)}

    def change(self, pin: str, i: Pins) -> None:
        # where C falls, the data that it finds are those of the instant before, as for an edge
        if i["C"] or pin == "C":
            self.value = {n: i[f"D{n}"] for n in self.value}

    def outputs(self, i: Pins) -> Pins:
        return {} if i["OC_n"] else {f"Q{n}": level for n, level in self.value.items()}


class Words(Memory):
    """DM74S189: 16 words of 4, read inverted."""

    def __init__(self) -> None:
        super().__init__()
        self.value = {at: at ^ 5 for at in range(16)}

    def change(self, pin: str, i: Pins) -> None:
        if not i["CS_n"] and not i["WE_n"]:
            self.value[_word(i, "A")] = _word(i, "D", "1234")

    def outputs(self, i: Pins) -> Pins:
        if i["CS_n"] or not i["WE_n"]:
            return {}
        return {f"O{k}_n": 1 - (self.value[_word(i, "A")] >> (k - 1) & 1) for k in range(1, 5)}


MEMORIES: dict[str, Callable[[], Memory]] = {
    "7474": lambda: FlipFlops(False), "74112": lambda: FlipFlops(True), "74161": lambda: Counter(True),
    "74163": lambda: Counter(False), "74164": Shifter, "74174": lambda: Registers("74174"),
    "74175": lambda: Registers("74175"), "74189": Words, "74193": UpDown, "74194": BothWays,
    "74298": lambda: Registers("74298"), "74373": Latches, "74374": lambda: Registers("74374"),
}  # fmt: skip
CLOCKS = {"CLK", "CLK1", "CLK2", "UP", "DOWN", "C", "WE_n"}
"""Legs that move often in a drawn capture."""
CLEARS = {"CLR_n", "CLR1_n", "CLR2_n", "PRE1_n", "PRE2_n", "CLR", "LOAD_n", "CS_n", "OC_n", "G_n"}
"""Legs that are active seldom."""
