"""The declarations of a value change dump (IEEE Std 1364-2005, 18.2.3): time scale, scopes, variables."""

from __future__ import annotations

import itertools
import re
from collections.abc import Iterator
from dataclasses import dataclass, field
from fractions import Fraction
from urllib.parse import unquote

from tracecore.errors import MalformedCapture
from tracecore.quantities import time_unit_ps
from tracecore.readers.headings.own_comment import NOTHING_CARRIED, Carried, carried
from tracecore.readers.headings.titles import distinct
from tracecore.readers.source import Head

KEYWORDS = ("$comment", "$date", "$enddefinitions", "$scope", "$timescale", "$upscope", "$var", "$version")
_SCALE = re.compile(r"(1|10|100)\s*(s|ms|us|ns|ps|fs)")
_RANGE = re.compile(r"(?P<name>.+?)?\[(?P<first>-?\d+)(?::(?P<last>-?\d+))?\]")
_NAME = re.compile(r"Twinslot name (\S+) (\S+)")
_NETS = ("wire", "tri", "tri0", "tri1", "triand", "trior", "trireg", "wand", "wor", "supply0", "supply1")
LOGIC = frozenset((*_NETS, "reg", "integer", "time", "parameter", "logic", "bit"))
LEFT_OUT = frozenset(("real", "realtime", "event", "string"))
LONGEST_CODE = 8
_WIDEST = 1 << 16


@dataclass(frozen=True, slots=True)
class Variable:
    """One identifier code: its bits stand at ``first`` to ``first + width - 1`` of all bits, the most significant
    one first; ``width`` is 0 where the variable is left out. ``event`` says that it is one of which the changes are
    written like those of a bit."""

    first: int
    width: int
    event: bool = False


@dataclass(frozen=True, slots=True)
class DumpHeading:
    """``names`` are (channel, bit) in the order of the declarations; two may share a bit. ``left_out`` are names of
    variables that hold no logic."""

    unit_ps: Fraction
    variables: dict[bytes, Variable]
    names: tuple[tuple[str, int], ...]
    left_out: tuple[str, ...]
    carried: Carried
    facts: tuple[tuple[str, str], ...]


def begins_as_dump(head: Head) -> bool:
    """Is the first word of the file one that a dump begins with?"""
    first = next((line.split()[0] for line in head.lines if line.strip()), "")
    return first in KEYWORDS


def read_dump_heading(path: str, text: str) -> DumpHeading:
    """``text`` is the file up to and with ``$enddefinitions $end``. Raises MalformedCapture with the line."""
    return _Declarations(path).read(text)


@dataclass(slots=True)
class _Declarations:
    path: str
    line: int = 1
    unit_ps: Fraction | None = None
    scopes: list[str] = field(default_factory=list)
    variables: dict[bytes, Variable] = field(default_factory=dict)
    kinds: dict[bytes, tuple[int, bool]] = field(default_factory=dict)
    names: list[tuple[str, int]] = field(default_factory=list)
    given: dict[str, str] = field(default_factory=dict)
    left_out: list[str] = field(default_factory=list)
    carried: Carried = NOTHING_CARRIED
    facts: list[tuple[str, str]] = field(default_factory=list)
    bits: int = 0

    def read(self, text: str) -> DumpHeading:
        for keyword, words, line in _commands(text, self):
            self.line = line
            self._take(keyword, words)
        if self.unit_ps is None:
            raise self.wrong("no $timescale", "one such as '$timescale 1 ns $end'")
        if not self.names:
            raise self.wrong("no variable that holds logic", "at least one $var of kind wire or reg")
        own, bits = zip(*self.names, strict=True)
        named = tuple(zip(distinct(own), bits, strict=True))
        return DumpHeading(self.unit_ps, self.variables, named, tuple(self.left_out), self.carried, tuple(self.facts))

    def wrong(self, found: str, expected: str) -> MalformedCapture:
        return MalformedCapture(
            self.path, line=self.line, found=found, expected=expected, do="Export the dump again, or correct this line."
        )

    def _take(self, keyword: str, words: list[str]) -> None:
        if keyword == "$timescale":
            match = _SCALE.fullmatch(" ".join(words))
            unit = time_unit_ps(match[2]) if match else None
            if match is None or unit is None or self.unit_ps is not None:
                raise self.wrong(
                    f"the time scale {' '.join(words)[:40]!r}", "one of 1, 10 or 100 s, ms, us, ns, ps or fs"
                )
            self.unit_ps = int(match[1]) * unit
            self.facts.append(("time scale", f"{match[1]} {match[2]}"))
        elif keyword == "$scope":
            if len(words) != 2:
                raise self.wrong(f"a scope of {len(words)} words", "a kind and a name")
            self.scopes.append(words[1])
        elif keyword == "$upscope":
            if not self.scopes or words:
                raise self.wrong("$upscope outside of every scope", "a $scope before it")
            self.scopes.pop()
        elif keyword == "$var":
            self._variable(words)
        elif keyword == "$comment":
            self._comment(" ".join(words))
        elif keyword != "$enddefinitions" and words:
            self.facts.append((keyword[1:], " ".join(words)[:200]))

    def _comment(self, text: str) -> None:
        own, name = carried(text), _NAME.fullmatch(text)
        if own is not None:
            self.carried = own
        elif name:
            self.given[name[1]] = unquote(name[2])
        elif text:
            self.facts.append(("comment", text[:200]))

    def _variable(self, words: list[str]) -> None:
        if len(words) < 4 or not words[1].isdecimal() or not 0 < int(words[1]) <= _WIDEST:
            raise self.wrong(f"the variable {' '.join(words)[:60]!r}", "a kind, a size, an identifier code and a name")
        kind, width, code = words[0], int(words[1]), words[2].encode()
        if kind not in LOGIC and kind not in LEFT_OUT:
            raise self.wrong(f"a variable of kind {kind[:40]!r}", "wire, reg, integer or another kind of the standard")
        if len(code) > LONGEST_CODE or not code.isascii():
            raise self.wrong(f"the identifier code {words[2][:40]!r}", f"{LONGEST_CODE} printable characters at most")
        logic = kind in LOGIC
        if self.kinds.setdefault(code, (width, logic)) != (width, logic):
            raise self.wrong(f"the identifier code {words[2]!r} a second time with another size or kind", "one of each")
        if code not in self.variables:
            self.variables[code] = Variable(self.bits, width if logic else 0, kind == "event")
            self.bits += width if logic else 0
        own = self.carried.scope
        scopes = self.scopes[1:] if own and self.scopes[:1] == [own] else self.scopes
        name = ".".join([*scopes, self.given.get(words[2]) or "".join(words[3:])])
        if not logic:
            self.left_out.append(name)
            return
        self.names += zip(self._bit_names(name, width), itertools.count(self.variables[code].first), strict=False)

    def _bit_names(self, name: str, width: int) -> list[str]:
        """``D[3:0]`` are D[3] to D[0]; without a range the least significant bit is 0."""
        match = _RANGE.fullmatch(name)
        if match is None or match["last"] is None or not match["name"]:
            return [name] if width == 1 else [f"{name}[{i}]" for i in range(width - 1, -1, -1)]
        first, last = int(match["first"]), int(match["last"])
        step = 1 if last >= first else -1
        numbers = range(first, last + step, step)
        if len(numbers) != width:
            raise self.wrong(
                f"the range [{first}:{last}] for a variable of {width} bits", "one that agrees with the size"
            )
        return [f"{match['name']}[{i}]" for i in numbers]


def _commands(text: str, asked: _Declarations) -> Iterator[tuple[str, list[str], int]]:
    """Keyword, words up to ``$end``, and the line of the keyword."""
    keyword, line = "", 1
    words: list[str] = []
    for number, row in enumerate(text.split("\n"), start=1):
        for word in row.split():
            asked.line = number
            if not keyword:
                if word not in KEYWORDS:
                    raise asked.wrong(f"{word[:40]!r} among the declarations", "one of " + ", ".join(KEYWORDS))
                keyword, words, line = word, [], number
            elif word == "$end":
                yield keyword, words, line
                keyword = ""
            elif word in KEYWORDS:
                raise asked.wrong(f"{word!r} within {keyword}", "$end before it")
            else:
                words.append(word)
    if keyword:
        asked.line = line
        raise asked.wrong(f"no $end behind {keyword}", "$end")
