"""Which cycles to leave out of a comparison, by a condition on signals.

A condition is written in the operators of IEEE Std 1364-2005 (clause 5.1, precedence as in table 5-4) over the names of
signals: ``!REFRESH && (BUSY == 0)``. A name may have its scopes before it (clause 12.4), ``card.BUSY``. One that is no
plain identifier is escaped as there (clause 3.7.1): a backslash before it and a space behind it, ``\\-RAS ``. A bus of
the probe sheet is a vector, and ``ADDR[3]`` one bit of it.
There are no arithmetic, shift or concatenation operators.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import NamedTuple, NoReturn

from tracecore.errors import RequestError

LONGEST = 2000
_DEEPEST = 60
# loosest first; operators of one row bind alike, from the left
_ROWS = (("||",), ("&&",), ("|",), ("^", "^~", "~^"), ("&",), ("==", "!=", "===", "!=="), ("<", "<=", ">", ">="))
_UNARY = ("!", "~", "&", "~&", "|", "~|", "^", "~^", "^~")
_TOKEN = re.compile(
    r"\s*(?:(?P<number>\d*\s*'[sS]?[bodhBODH]\s*[0-9a-fA-FxXzZ?_]+|\d[\d_]*)|(?P<name>[A-Za-z_][\w$]*(?:\.[A-Za-z_][\w$]*)*|\\\S+)"
    r"|(?P<sign>===|!==|==|!=|<=|>=|&&|\|\||~&|~\||~\^|\^~|[!~&|^<>?:()\[\]]))"
)


class Token(NamedTuple):
    """A piece of the condition; ``at`` counts characters from 0. Kind "end" stands behind the last."""

    kind: str
    text: str
    at: int


@dataclass(frozen=True, slots=True)
class Signal:
    """A signal or bus, or one bit of a bus."""

    name: str
    bit: int | None
    at: int


@dataclass(frozen=True, slots=True)
class Number:
    """A number; bits of ``unknown`` are x or z. ``width`` None where none was written."""

    value: int
    unknown: int
    width: int | None
    text: str


@dataclass(frozen=True, slots=True)
class Unary:
    """An operator before its operand."""

    sign: str
    of: Tree


@dataclass(frozen=True, slots=True)
class Binary:
    """An operator between two operands."""

    sign: str
    left: Tree
    right: Tree


@dataclass(frozen=True, slots=True)
class Choice:
    """``test ? yes : no``."""

    test: Tree
    yes: Tree
    no: Tree


Tree = Signal | Number | Unary | Binary | Choice


@dataclass(frozen=True, slots=True)
class Condition:
    """A condition that could be read; ``names`` are the signals and buses in it."""

    text: str
    tree: Tree
    names: tuple[str, ...]


def parse(text: str) -> Condition:
    """Reads a condition. RequestError names the character, counted from 1, at which it cannot go on.

    >>> parse("!REFRESH && (BUSY == 0)").names
    ('REFRESH', 'BUSY')
    """
    if len(text) > LONGEST:
        raise RequestError(f"The condition has {len(text)} characters; at most {LONGEST} are read. Shorten it.")
    reader = _Reader(text)
    tree = reader.choice()
    if reader.token.kind != "end":
        reader.fail("an operator or the end")
    return Condition(text.strip(), tree, tuple(dict.fromkeys(reader.names)))


class _Reader:
    """One pass over the tokens, one method for each level of precedence."""

    def __init__(self, text: str) -> None:
        self.text, self.names, self.depth = text, list[str](), 0
        self.token = self._next(0)

    def _next(self, start: int) -> Token:
        match = _TOKEN.match(self.text, start)
        if match is None:
            rest = self.text[start:].lstrip()
            self.token = Token("other", rest[:1], len(self.text) - len(rest))
            return self.token if rest else Token("end", "", len(self.text))
        kind = match.lastgroup or ""
        return Token(kind, match[kind], match.start(kind))

    def _take(self) -> Token:
        taken = self.token
        self.token = self._next(taken.at + len(taken.text))
        return taken

    def fail(self, expected: str) -> NoReturn:
        """Says where, what was found and what was expected."""
        found = f"“{self.token.text}”" if self.token.text else "its end"
        before = self.text[: self.token.at].rstrip()
        after = f", after “{before[-20:]}”" if before else ""
        raise RequestError(
            f"Condition, character {self.token.at + 1}{after}: found {found}; expected {expected}. "
            "Write it in the operators of IEEE Std 1364 over signal names, as in !REFRESH && (BUSY == 0)."
        )

    def _expect(self, sign: str) -> None:
        if self.token.text != sign:
            self.fail(f"“{sign}”")
        self._take()

    def choice(self) -> Tree:
        self.depth += 1
        if self.depth > _DEEPEST:
            self.fail(f"no more than {_DEEPEST} parentheses or operators within one another")
        tree = self._row(0)
        if self.token.text == "?":
            self._take()
            yes = self.choice()
            self._expect(":")
            tree = Choice(tree, yes, self.choice())
        self.depth -= 1
        return tree

    def _row(self, row: int) -> Tree:
        if row == len(_ROWS):
            return self._unary()
        tree = self._row(row + 1)
        while self.token.kind == "sign" and self.token.text in _ROWS[row]:
            sign = self._take().text
            tree = Binary("~^" if sign == "^~" else sign, tree, self._row(row + 1))
        return tree

    def _unary(self) -> Tree:
        token = self.token
        if token.kind == "sign" and token.text in _UNARY:
            self.depth += 1
            if self.depth > _DEEPEST:
                self.fail(f"no more than {_DEEPEST} parentheses or operators within one another")
            tree: Tree = Unary("~^" if self._take().text == "^~" else token.text, self._unary())
            self.depth -= 1
            return tree
        if token.text == "(":
            self._take()
            tree = self.choice()
            self._expect(")")
            return tree
        if token.kind == "number":
            number = self._number(token)
            self._take()
            return number
        if token.kind != "name":
            self.fail("a signal, a number or “(”")
        self._take()
        return self._signal(token)

    def _signal(self, token: Token) -> Signal:
        name = token.text.removeprefix("\\")
        self.names.append(name)
        if self.token.text != "[":
            return Signal(name, None, token.at)
        self._take()
        if not self.token.text.isdecimal():
            self.fail("the number of a bit")
        bit = int(self._take().text)
        self._expect("]")
        return Signal(name, bit, token.at)

    def _number(self, token: Token) -> Number:
        text = token.text.replace("_", "")
        if "'" not in text:
            return Number(_small(self, int(text)), 0, None, text)
        width, digits = (part.strip() for part in re.sub("['][sS]", "'", text).split("'"))
        base = {"b": 1, "o": 3, "d": 0, "h": 4}[digits[0].lower()]
        digits = digits[1:].strip().lower().replace("z", "x").replace("?", "x")
        if width and not 0 < int(width) <= 64:
            self.fail("a width of 1 to 64 bits")
        try:
            if not base:
                value, unknown = int(digits), 0
            else:
                value = int(digits.replace("x", "0"), 1 << base)
                ones = {"x": format((1 << base) - 1, f"0{base}b")}
                unknown = int("".join(ones.get(d, "0" * base) for d in digits), 2)
        except ValueError:
            self.fail(f"digits of base {10 if not base else 1 << base}")
        return Number(_small(self, value), _small(self, unknown), int(width) if width else None, text)


def _small(reader: _Reader, value: int) -> int:
    if value >= 1 << 64:
        reader.fail("a number of at most 64 bits")
    return value


# --- reading it back


def in_words(condition: Condition) -> str:
    """The condition in plain words.

    >>> in_words(parse("!REFRESH && (BUSY == 0 || STATE > 4'hA)"))
    "REFRESH is low and (BUSY is 0 or STATE is above 4'hA)"
    """
    return _said(condition.tree)


_COMPARED = {"==": "is", "!=": "is not", "===": "is exactly", "!==": "is not exactly"} | {
    "<": "is below",
    "<=": "is at most",
    ">": "is above",
    ">=": "is at least",
}
_JOINED = {"&&": "and", "||": "or", "&": "and", "|": "or", "^": "or else", "~^": "just as"}
_REDUCED = {"&": "all of {}", "~&": "not all of {}", "|": "any of {}", "~|": "none of {}"} | {
    "^": "an odd number of {}",
    "~^": "an even number of {}",
}


def _said(tree: Tree) -> str:
    """A tree as a statement."""
    if isinstance(tree, Unary):
        if tree.sign in ("!", "~"):
            return f"{_named(tree.of)} is low" if isinstance(tree.of, Signal) else f"not ({_said(tree.of)})"
        return f"{_REDUCED[tree.sign].format(_named(tree.of))} is high"
    if isinstance(tree, Binary) and tree.sign in _JOINED:
        word = _JOINED[tree.sign]
        parts = [_bracketed(part, tree.sign) for part in (tree.left, tree.right)]
        return f" {word} ".join(parts)
    if isinstance(tree, Binary):
        return f"{_named(tree.left)} {_COMPARED[tree.sign]} {_named(tree.right)}"
    if isinstance(tree, Choice):
        return f"if ({_said(tree.test)}) then ({_said(tree.yes)}) else ({_said(tree.no)})"
    if isinstance(tree, Number):
        return f"{tree.text} is not 0"
    return f"{_named(tree)} is high"


def _bracketed(part: Tree, sign: str) -> str:
    other = isinstance(part, Binary) and part.sign in _JOINED and _JOINED[part.sign] != _JOINED[sign]
    return f"({_said(part)})" if other or isinstance(part, Choice) else _said(part)


def _named(tree: Tree) -> str:
    """A tree as a thing that has a value."""
    if isinstance(tree, Signal):
        return tree.name if tree.bit is None else f"{tree.name} bit {tree.bit}"
    return tree.text if isinstance(tree, Number) else f"({_said(tree)})"
