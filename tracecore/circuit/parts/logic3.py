"""Logic of three values for whole arrays: low, high, and not known. What is known either way stays known."""

from __future__ import annotations

import ast
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from tracecore.capture import HIGH, LOW, UNKNOWN, UInt8

Bools = NDArray[np.bool_]


@dataclass(frozen=True, slots=True, eq=False)
class Tri:
    """``low`` and ``high`` bool[N]: known to be low, known to be high; never both."""

    low: Bools
    high: Bools

    def __invert__(self) -> Tri:
        return Tri(self.high, self.low)

    def __and__(self, other: Tri) -> Tri:
        return Tri(self.low | other.low, self.high & other.high)

    def __or__(self, other: Tri) -> Tri:
        return Tri(self.low & other.low, self.high | other.high)

    def __xor__(self, other: Tri) -> Tri:
        return Tri((self.low & other.low) | (self.high & other.high), (self.low & other.high) | (self.high & other.low))

    @property
    def levels(self) -> UInt8:
        """uint8[N]: 0 low, 1 high, 2 unknown."""
        out = np.full(len(self.low), UNKNOWN, np.uint8)
        out[self.low] = LOW
        out[self.high] = HIGH
        return out


def tri(levels: UInt8) -> Tri:
    """Levels as three-valued logic.

    >>> (tri(np.array([0, 1, 2], np.uint8)) & tri(np.array([2, 2, 2], np.uint8))).levels.tolist()
    [0, 2, 2]
    """
    return Tri(levels == LOW, levels == HIGH)


Values = Mapping[str, Tri]


@dataclass(frozen=True, slots=True, eq=False)
class Equation:
    """A truth function of pins. ``names`` are those it uses, in order."""

    text: str
    names: tuple[str, ...]
    value: Callable[[Values], Tri]


@lru_cache(maxsize=4096)
def equation(text: str) -> Equation:
    """Takes an equation in ``~ & | ^``. Raises ValueError where it holds anything else.

    >>> equation("~(A & B)").names
    ('A', 'B')
    """
    try:
        tree = ast.parse(text, mode="eval").body
    except SyntaxError as error:
        raise ValueError(f"{text!r} is no equation") from error
    names = tuple(dict.fromkeys(node.id for node in ast.walk(tree) if isinstance(node, ast.Name)))
    return Equation(text, names, _compiled(tree, text))


def _compiled(node: ast.expr, text: str) -> Callable[[Values], Tri]:
    if isinstance(node, ast.Name):
        name = node.id
        return lambda values: values[name]
    if isinstance(node, ast.UnaryOp) and isinstance(node.op, ast.Invert):
        inner = _compiled(node.operand, text)
        return lambda values: ~inner(values)
    if isinstance(node, ast.BinOp):
        left, right = _compiled(node.left, text), _compiled(node.right, text)
        if isinstance(node.op, ast.BitAnd):
            return lambda values: left(values) & right(values)
        if isinstance(node.op, ast.BitOr):
            return lambda values: left(values) | right(values)
        if isinstance(node.op, ast.BitXor):
            return lambda values: left(values) ^ right(values)
    raise ValueError(f"{text!r} holds more than ~ & | ^ and names")
