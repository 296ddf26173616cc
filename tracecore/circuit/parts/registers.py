"""What the parts with a memory do at an edge or a level, one step at a time, with bits that may be unknown (2).

A ``Store`` is one memory of a part: half a 7474, a whole 74161. Behaviour is that of the sheets named in
``parts.toml``; counters count up from the bit that stands first.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field, replace
from itertools import product

from tracecore.capture import HIGH, LOW, UNKNOWN

Levels = Mapping[str, int]
State = tuple[int, ...]
Step = Callable[[State, str, Levels], State]


@dataclass(frozen=True, slots=True)
class Store:
    """One memory. ``bits`` name its state by the outputs that show it, the first counting least.

    ``clocks`` are edges as pin and the level reached. ``levels`` are pins that act at once, by their level.
    ``controls`` steer what an edge does, ``data`` are taken over by it. ``clocked`` makes the state after an edge of
    a pin, for known controls. ``forced`` makes the state while the pins of ``levels`` stand as they do, for known ones;
    it gets all pins. Pins of ``restless`` must not move while the clock is low, or the state is not known any more.
    """

    bits: tuple[str, ...]
    clocks: Mapping[str, int]
    levels: tuple[str, ...]
    controls: tuple[str, ...]
    data: tuple[str, ...]
    clocked: Step
    forced: Callable[[State, Levels], State]
    size: int = 0
    restless: tuple[str, ...] = ()
    _steering: tuple[str, ...] = field(init=False, repr=False)
    _known: tuple[str, ...] = field(init=False, repr=False)

    def __post_init__(self) -> None:
        steering = tuple(pin for pin in self.levels if pin not in self.data)
        object.__setattr__(self, "_steering", steering)
        object.__setattr__(self, "_known", tuple(dict.fromkeys((*self.controls, *steering))))

    @property
    def steering(self) -> tuple[str, ...]:
        """The pins of ``levels`` that decide what happens, without those whose level is only taken over."""
        return self._steering

    @property
    def pins(self) -> tuple[str, ...]:
        """Every pin that the state hangs on."""
        return tuple(dict.fromkeys((*self.clocks, *self.levels, *self.controls, *self.data)))

    @property
    def unknown(self) -> State:
        """The state before anything was seen."""
        return (UNKNOWN,) * (self.size or len(self.bits))

    def shown(self, state: State, levels: Levels) -> State:
        """What the outputs named by ``bits`` show of a state."""
        if not self.size:
            return state
        at = _word(levels)
        return (UNKNOWN,) * len(self.bits) if at is None else tuple(invert(bit) for bit in state[4 * at : 4 * at + 4])

    def learnt(self, state: State, levels: Levels, seen: State, anew: bool = False) -> State:
        """The state with bits that were not known taken from what the outputs show; 2 where they show nothing.

        With ``anew`` every bit that shows is taken.
        """
        at = _word(levels) if self.size else 0
        if at is None:
            return state
        shows = tuple(invert(level) for level in seen) if self.size else seen
        first, last = len(seen) * at, len(seen) * (at + 1)
        here = tuple(
            s if s != UNKNOWN and (anew or b == UNKNOWN) else b for b, s in zip(state[first:last], shows, strict=True)
        )
        return (*state[:first], *here, *state[last:])

    def after_edge(self, state: State, pin: str, levels: Levels) -> State:
        """The state after an edge of a clock; controls that are not known leave what all of their values agree on."""
        return _merged(lambda now: self.clocked(state, pin, now), levels, self._known)

    def after_level(self, state: State, levels: Levels) -> State:
        """The state after a pin that acts at once has changed."""
        return _merged(lambda now: self.forced(state, now), levels, self._steering)


def merge(one: State, other: State) -> State:
    """What both have in common.

    >>> merge((0, 1, 1), (0, 0, 2))
    (0, 2, 2)
    """
    return tuple(a if a == b else UNKNOWN for a, b in zip(one, other, strict=True))


def _merged(step: Callable[[Levels], State], levels: Levels, pins: tuple[str, ...]) -> State:
    unknown = [pin for pin in pins if levels[pin] == UNKNOWN]
    if not unknown:
        return step(levels)
    out: State | None = None
    for values in product((LOW, HIGH), repeat=len(unknown)):
        now = {**levels, **dict(zip(unknown, values, strict=True))}
        made = step(now)
        out = made if out is None else merge(out, made)
    assert out is not None
    return out


def invert(level: int) -> int:
    """Low for high and the other way round; unknown stays."""
    return level if level == UNKNOWN else 1 - level


def both(one: int, other: int) -> int:
    """And of three values."""
    if LOW in (one, other):
        return LOW
    return HIGH if one == other == HIGH else UNKNOWN


def differ(one: int, other: int) -> int:
    """Exclusive or of three values."""
    return UNKNOWN if UNKNOWN in (one, other) else one ^ other


def counted(state: State, *, up: bool) -> State:
    """One more, or one less, modulo the size; an unknown bit makes those that may be carried into unknown.

    >>> counted((1, 1, 0, 0), up=True), counted((0, 0, 1, 0), up=False)
    ((0, 0, 1, 0), (1, 1, 0, 0))
    """
    out, carry = [], HIGH
    for bit in state:
        out.append(differ(bit, carry))
        carry = both(carry, bit if up else invert(bit))
    return tuple(out)


def _kept(state: State, _levels: Levels) -> State:
    return state


def _register(bits: tuple[str, ...], data: tuple[str, ...], clock: tuple[str, int], clear: str = "") -> Store:
    """D flip-flops with one clock and perhaps a clear."""

    def clocked(state: State, _pin: str, now: Levels) -> State:
        return state if clear and now[clear] == LOW else tuple(now[name] for name in data)

    def forced(state: State, now: Levels) -> State:
        return (LOW,) * len(bits) if clear and now[clear] == LOW else state

    return Store(bits, dict([clock]), (clear,) if clear else (), (), data, clocked, forced)


def _flip_flop(
    n: str, clock: int, taken: Callable[[int, Levels], int], data: tuple[str, ...], controls: tuple[str, ...]
) -> Store:
    """Half a 7474 or 74112: both outputs are kept, since both are high while preset and clear are low."""
    pre, clr = f"PRE{n}_n", f"CLR{n}_n"

    def forced(state: State, now: Levels) -> State:
        if LOW in (now[pre], now[clr]):
            return (invert(now[pre]), invert(now[clr]))
        # both were low and are let go at once: either may come out
        return (UNKNOWN, UNKNOWN) if state == (HIGH, HIGH) else state

    def clocked(state: State, _pin: str, now: Levels) -> State:
        if LOW in (now[pre], now[clr]):
            return state
        level = taken(state[0], now)
        return (level, invert(level))

    return Store((f"Q{n}", f"Q{n}_n"), {f"CLK{n}": clock}, (pre, clr), controls, data, clocked, forced)


def _d_half(n: str) -> Store:
    return _flip_flop(n, HIGH, lambda _q, now: now[f"D{n}"], (f"D{n}",), ())


def _jk_half(n: str) -> Store:
    def taken(q: int, now: Levels) -> int:
        j, k = now[f"J{n}"], now[f"K{n}"]
        if j == k:
            return invert(q) if j else q
        return j

    return _flip_flop(n, LOW, taken, (), (f"J{n}", f"K{n}"))


_COUNT = ("QA", "QB", "QC", "QD")
_LOAD = ("A", "B", "C", "D")


def _counter(*, clear_at_once: bool) -> Store:
    def clocked(state: State, _pin: str, now: Levels) -> State:
        if now["CLR_n"] == LOW:
            return (LOW,) * 4
        if now["LOAD_n"] == LOW:
            return tuple(now[name] for name in _LOAD)
        return counted(state, up=True) if now["ENP"] == now["ENT"] == HIGH else state

    def forced(state: State, now: Levels) -> State:
        return (LOW,) * 4 if now["CLR_n"] == LOW else state

    controls = ("LOAD_n", "ENP", "ENT")
    if clear_at_once:
        return Store(_COUNT, {"CLK": HIGH}, ("CLR_n",), controls, _LOAD, clocked, forced)
    return Store(_COUNT, {"CLK": HIGH}, (), (*controls, "CLR_n"), _LOAD, clocked, _kept)


def _up_down() -> Store:
    def forced(state: State, now: Levels) -> State:
        if now["CLR"] == HIGH:
            return (LOW,) * 4
        return tuple(now[name] for name in _LOAD) if now["LOAD_n"] == LOW else state

    def clocked(state: State, pin: str, now: Levels) -> State:
        if now["CLR"] == HIGH or now["LOAD_n"] == LOW:
            return forced(state, now)
        other = "DOWN" if pin == "UP" else "UP"
        # a count with the other clock low is not in the table
        return counted(state, up=pin == "UP") if now[other] == HIGH else (UNKNOWN,) * 4

    # while LOAD_n is low the outputs follow the inputs, so these act at once too
    return Store(_COUNT, {"UP": HIGH, "DOWN": HIGH}, ("CLR", "LOAD_n", *_LOAD), ("UP", "DOWN"), _LOAD, clocked, forced)


def _shifter() -> Store:
    bits = tuple(f"Q{letter}" for letter in "ABCDEFGH")

    def clocked(state: State, _pin: str, now: Levels) -> State:
        return (LOW,) * 8 if now["CLR_n"] == LOW else (both(now["A"], now["B"]), *state[:-1])

    def forced(state: State, now: Levels) -> State:
        return (LOW,) * 8 if now["CLR_n"] == LOW else state

    return Store(bits, {"CLK": HIGH}, ("CLR_n",), (), ("A", "B"), clocked, forced)


def _both_ways() -> Store:
    def clocked(state: State, _pin: str, now: Levels) -> State:
        if now["CLR_n"] == LOW:
            return (LOW,) * 4
        if now["S1"] == HIGH:
            return tuple(now[name] for name in _LOAD) if now["S0"] == HIGH else (*state[1:], now["SL"])
        return (now["SR"], *state[:-1]) if now["S0"] == HIGH else state

    def forced(state: State, now: Levels) -> State:
        return (LOW,) * 4 if now["CLR_n"] == LOW else state

    return Store(_COUNT, {"CLK": HIGH}, ("CLR_n",), ("S0", "S1"), ("SR", "SL", *_LOAD), clocked, forced)


def _selected() -> Store:
    def clocked(_state: State, _pin: str, now: Levels) -> State:
        word = "2" if now["WS"] == HIGH else "1"
        return tuple(now[f"{letter}{word}"] for letter in "ABCD")

    data = tuple(f"{letter}{word}" for word in "12" for letter in "ABCD")
    return Store(_COUNT, {"CLK": LOW}, (), ("WS",), data, clocked, _kept)


def _latch(n: int) -> Store:
    def forced(state: State, now: Levels) -> State:
        return (now[f"D{n}"],) if now["C"] == HIGH else state

    def clocked(_state: State, _pin: str, now: Levels) -> State:
        return (now[f"D{n}"],)

    # the falling edge keeps what stood there: as an edge it minds setup and hold
    return Store((f"Q{n}",), {"C": LOW}, ("C", f"D{n}"), (), (f"D{n}",), clocked, forced)


def _words() -> Store:
    """16 words of 4; the state is all 64 bits, and what is shown are those at the address."""

    def forced(state: State, now: Levels) -> State:
        at = _word(now)
        if now["CS_n"] == HIGH or now["WE_n"] == HIGH or at is None:
            return state
        at *= 4
        return (*state[:at], *(now[f"D{n}"] for n in (1, 2, 3, 4)), *state[at + 4 :])

    def clocked(state: State, _pin: str, _now: Levels) -> State:
        return state

    pins = ("CS_n", "WE_n", *_ADDRESS)
    data = ("D1", "D2", "D3", "D4")
    return Store(tuple(f"O{n}_n" for n in (1, 2, 3, 4)), {}, (*pins, *data), (), data, clocked, forced, size=64)


_ADDRESS = ("A0", "A1", "A2", "A3")


def _word(now: Levels) -> int | None:
    """The address, None where a line of it is not known."""
    lines = [now[name] for name in _ADDRESS]
    return None if UNKNOWN in lines else sum(line << index for index, line in enumerate(lines))


def _numbered(count: int) -> tuple[tuple[str, ...], tuple[str, ...]]:
    return tuple(f"Q{n}" for n in range(1, count + 1)), tuple(f"D{n}" for n in range(1, count + 1))


STORES: Mapping[str, tuple[Store, ...]] = {
    "7474": (_d_half("1"), _d_half("2")),
    "74112": (_jk_half("1"), _jk_half("2")),
    "74161": (_counter(clear_at_once=True),),
    "74163": (_counter(clear_at_once=False),),
    "74164": (_shifter(),),
    "74174": (_register(*_numbered(6), ("CLK", HIGH), "CLR_n"),),
    "74175": (_register(*_numbered(4), ("CLK", HIGH), "CLR_n"),),
    "74189": (_words(),),
    "74193": (_up_down(),),
    "74194": (_both_ways(),),
    "74298": (_selected(),),
    "74373": tuple(_latch(n) for n in range(1, 9)),
    "74374": (_register(*_numbered(8), ("CLK", HIGH)),),
}
"""The memories of each part that has one, but for the one-shot; by the number of ``parts.toml``."""

_RESTLESS = {"74161": ("LOAD_n", "ENP", "ENT"), "74163": ("LOAD_n", "ENP", "ENT"), "74194": ("S0", "S1")}
"""Pins of the plain 74 types that the sheets ask to be moved only while the clock is high (74161 from memory)."""


def stores_of(number: str, base: str) -> tuple[Store, ...]:
    """The memories of one number of a part, whose entry in ``parts.toml`` is ``base``; empty where it has none."""
    stores = STORES.get(base, ())
    if number == base and base in _RESTLESS:
        return tuple(replace(store, restless=_RESTLESS[base]) for store in stores)
    return stores


SHOWN_INVERTED = {"74175": {f"Q{n}_n": f"Q{n}" for n in range(1, 5)}}
"""Outputs that show the complement of a bit."""
