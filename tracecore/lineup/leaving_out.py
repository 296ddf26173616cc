"""Where a condition on signals is true, cycle by cycle.

States are four-valued, as in IEEE Std 1364-2005, clause 5.1: an undecided one is x, and a cycle counts as left out only
where the condition is surely true.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from difflib import get_close_matches
from typing import NamedTuple, NoReturn

import numpy as np

from tracecore.capture import UInt8
from tracecore.errors import RequestError
from tracecore.lineup.condition import Binary, Condition, Number, Signal, Tree, Unary
from tracecore.lineup.state_words import Bools, Words
from tracecore.name_lists import few_names

_PART = 1 << 20


class Value(NamedTuple):
    """``ones`` uint64[N] and ``unknown`` uint64[N] (their bits apart), ``width`` bits wide."""

    ones: Words
    unknown: Words
    width: int


def left_out(condition: Condition, states: Mapping[str, UInt8], buses: Mapping[str, Mapping[int, str]]) -> Bools:
    """bool[N]: the cycles in which the condition is surely true.

    ``states`` gives uint8[N] states by signal; ``buses`` gives the signal of each bit of a bus. RequestError where
    the condition names something that is neither.
    """
    cycles = len(next(iter(states.values()), ()))
    out = np.zeros(cycles, np.bool_)
    for start in range(0, cycles, _PART):
        piece = {name: row[start : start + _PART] for name, row in states.items()}
        value = _truth(_value(condition.tree, _Scope(piece, buses)))
        out[start : start + _PART] = value.ones.astype(np.bool_)
    if not cycles:
        _value(condition.tree, _Scope(states, buses))
    return out


class _Scope(NamedTuple):
    states: Mapping[str, UInt8]
    buses: Mapping[str, Mapping[int, str]]

    def look_up(self, signal: Signal) -> Value:
        """The states of a signal, a bus or a bit of one; bit 0 is the lowest. A signal answers to its name without
        scopes where no other has that."""
        name = signal.name
        named = [name] if name in self.states else [own for own in self.states if own.rpartition(".")[2] == name]
        if signal.bit is None and len(named) == 1 and (name in self.states or name not in self.buses):
            return _scalar(self.states[named[0]])
        bits = self.buses.get(signal.name)
        if bits is None or (signal.bit is not None and signal.bit not in bits):
            self._unheard_of(signal)
        if signal.bit is not None:
            return _scalar(self.states[bits[signal.bit]])
        lowest = min(bits)
        parts = [(bit - lowest, _scalar(self.states[name])) for bit, name in bits.items()]
        ones = np.bitwise_or.reduce([v.ones << np.uint64(i) for i, v in parts])
        unknown = np.bitwise_or.reduce([v.unknown << np.uint64(i) for i, v in parts])
        return Value(ones, unknown, max(bits) - lowest + 1)

    def _unheard_of(self, signal: Signal) -> NoReturn:
        known = [*self.states, *self.buses]
        near = get_close_matches(signal.name, known, 1)
        bit = "" if signal.bit is None else f" bit {signal.bit}"
        raise RequestError(
            f"Condition, character {signal.at + 1}: found {signal.name}{bit}; expected a signal that both captures "
            f"have, besides the clock: {few_names(known)}. "
            + (f"Did you mean {near[0]}?" if near else "Name one of these.")
        )


def _scalar(row: UInt8) -> Value:
    states = row.astype(np.uint64)
    return Value(states & np.uint64(1), states >> np.uint64(1), 1)


def _full(width: int) -> np.uint64:
    return np.uint64((1 << width) - 1)


def _value(tree: Tree, scope: _Scope) -> Value:
    if isinstance(tree, Signal):
        return scope.look_up(tree)
    if isinstance(tree, Number):
        count = len(next(iter(scope.states.values()), ()))
        ones = np.full(count, tree.value & ~tree.unknown, np.uint64)
        width = tree.width or max(1, (tree.value | tree.unknown).bit_length())
        return Value(ones & _full(width), np.full(count, tree.unknown, np.uint64) & _full(width), width)
    if isinstance(tree, Unary):
        return _UNARIES[tree.sign](_value(tree.of, scope))
    if isinstance(tree, Binary):
        return _binary(tree.sign, _value(tree.left, scope), _value(tree.right, scope))
    return _chosen(*(_value(part, scope) for part in (tree.test, tree.yes, tree.no)))


def _truth(a: Value) -> Value:
    """1 where any bit is surely 1, 0 where all are surely 0, else x."""
    true = a.ones != 0
    return _bit(true, ~true & (a.unknown != 0))


def _bit(true: Bools, unknown: Bools) -> Value:
    return Value(true.astype(np.uint64), unknown.astype(np.uint64), 1)


def _not(a: Value) -> Value:
    return Value(~a.ones & ~a.unknown & _full(a.width), a.unknown, a.width)


def _and(a: Value, b: Value) -> Value:
    ones = a.ones & b.ones
    could = (a.ones | a.unknown) & (b.ones | b.unknown)
    return Value(ones, could & ~ones, max(a.width, b.width))


def _or(a: Value, b: Value) -> Value:
    ones = a.ones | b.ones
    return Value(ones, (a.unknown | b.unknown) & ~ones, max(a.width, b.width))


def _xor(a: Value, b: Value) -> Value:
    unknown = a.unknown | b.unknown
    return Value((a.ones ^ b.ones) & ~unknown, unknown, max(a.width, b.width))


def _all_ones(a: Value) -> Value:
    """1 where all bits are 1, 0 where one is 0, else x."""
    zero = ~(a.ones | a.unknown) & _full(a.width) != 0
    return _bit(~zero & (a.unknown == 0), ~zero & (a.unknown != 0))


def _odd(a: Value) -> Value:
    known = a.unknown == 0
    return _bit(known & (np.bitwise_count(a.ones) % 2 == 1), ~known)


_UNARIES: dict[str, Callable[[Value], Value]] = {
    "!": lambda a: _not(_truth(a)),
    "~": _not,
    "&": _all_ones,
    "~&": lambda a: _not(_all_ones(a)),
    "|": _truth,
    "~|": lambda a: _not(_truth(a)),
    "^": _odd,
    "~^": lambda a: _not(_odd(a)),
}


def _binary(sign: str, a: Value, b: Value) -> Value:
    if sign in ("&&", "||"):
        return (_and if sign == "&&" else _or)(_truth(a), _truth(b))
    if sign in ("&", "|", "^", "~^"):
        found = {"&": _and, "|": _or, "^": _xor, "~^": _xor}[sign](a, b)
        return _not(found) if sign == "~^" else found
    if sign in ("===", "!=="):
        same = (a.ones == b.ones) & (a.unknown == b.unknown)
        return _bit(same if sign == "===" else ~same, np.zeros(len(same), np.bool_))
    doubt = (a.unknown | b.unknown) != 0
    if sign in ("==", "!="):
        unlike = (a.ones ^ b.ones) & ~(a.unknown | b.unknown) != 0
        return _bit(unlike if sign == "!=" else ~unlike & ~doubt, ~unlike & doubt)
    order = {"<": np.less, "<=": np.less_equal, ">": np.greater, ">=": np.greater_equal}[sign]
    return _bit(order(a.ones, b.ones) & ~doubt, doubt)


def _chosen(test: Value, yes: Value, no: Value) -> Value:
    """``yes`` or ``no``; where the test is x, the bits on which both agree (clause 5.1.13)."""
    truth = _truth(test)
    true, doubt = truth.ones != 0, truth.unknown != 0
    unlike = (yes.ones ^ no.ones) | yes.unknown | no.unknown
    ones = np.where(doubt, yes.ones & ~unlike, np.where(true, yes.ones, no.ones))
    unknown = np.where(doubt, unlike, np.where(true, yes.unknown, no.unknown))
    return Value(ones, unknown, max(yes.width, no.width))
