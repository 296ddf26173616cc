"""The parts: their legs, truth functions and sources, from ``parts.toml``; found by any number printed on a chip."""

from __future__ import annotations

import csv
import difflib
import re
import tomllib
from collections.abc import Mapping
from dataclasses import dataclass
from functools import lru_cache
from importlib.resources import files
from types import MappingProxyType
from typing import Any

from tracecore.circuit.parts.logic3 import Equation, equation
from tracecore.errors import RequestError

_NUMBER = re.compile(r"(?:[A-Z]{1,4}[- ]?)?((?:54|74)[A-Z]{0,3}\d{2,4}|8\d{3}|7838|380)([A-Z]{0,3}\d?)")
"""A maker's letters, the number, and what stands for package and grade."""


@dataclass(frozen=True, slots=True, eq=False)
class Part:
    """One part. ``pins`` are names by leg number, "NC" where it is not connected.

    ``equations`` give the outputs by name; in a sequential part some use the state by the name of its output.
    ``enables`` are those that drive only at times. ``open_collector`` outputs only pull down. ``behaviour`` and
    ``asynchronous`` are what the sheet says in words.
    """

    number: str
    title: str
    same_pins: tuple[str, ...]
    pins: Mapping[int, str]
    vcc: int
    gnd: int
    kind: str
    sure: str
    sources: str
    equations: Mapping[str, Equation]
    enables: Mapping[str, Equation]
    open_collector: frozenset[str]
    behaviour: str = ""
    asynchronous: str = ""
    note: str = ""

    @property
    def numbers(self) -> tuple[str, ...]:
        """Every number that has these legs."""
        return (self.number, *self.same_pins)

    def leg(self, name: str) -> int:
        """The number of a leg by its name. Raises KeyError where the part has none."""
        for number, found in self.pins.items():
            if found == name:
                return number
        raise KeyError(name)

    @property
    def signals(self) -> Mapping[int, str]:
        """The legs that carry signals."""
        return {n: name for n, name in self.pins.items() if name not in ("NC", "VCC", "GND") and "EXT" not in name}


@lru_cache(maxsize=1)
def all_parts() -> tuple[Part, ...]:
    """Every part, in the table's order."""
    raw = tomllib.loads(files(__package__).joinpath("parts.toml").read_text(encoding="utf-8"))
    return tuple(_part(entry) for entry in raw["part"])


@lru_cache(maxsize=1)
def sources() -> Mapping[str, str]:
    """Titles of the sources by their ids, with "(from memory)" where they were not seen."""
    text = files(__package__).joinpath("sources.csv").read_text(encoding="utf-8")
    rows = csv.DictReader(text.splitlines())
    return MappingProxyType({r["id"]: r["title"] + ("" if r["seen"] == "seen" else " (from memory)") for r in rows})


def plain_number(text: str) -> str:
    """A number without maker, package and grade.

    >>> plain_number("SN74LS138N"), plain_number("dm7400j"), plain_number("5474")
    ('74LS138', '7400', '7474')
    """
    upper = text.strip().upper()
    match = _NUMBER.fullmatch(upper)
    number = match[1] if match else upper
    return "74" + number[2:] if number.startswith("54") else number


def find_part(text: str) -> Part:
    """The part that a number names. Raises RequestError with near numbers where the table has none."""
    wanted = plain_number(text)
    known = _by_number()
    part = known.get(wanted)
    if part is not None:
        return part
    near = difflib.get_close_matches(wanted, known, 4, 0.6)
    hint = f" Near are {', '.join(near)}." if near else ""
    raise RequestError(f"The table has no part {text.strip()!r}.{hint} See them all with: twinslot part --list.")


def exact_number(text: str, part: Part) -> str:
    """Which of the part's numbers a text means, with its family: "74LS138" of 74138."""
    wanted = plain_number(text)
    return next((n for n in part.numbers if plain_number(n) == wanted or n == wanted), part.number)


def family_of(number: str) -> str:
    """The family letters of a number, "" for parts outside it.

    >>> family_of("74LS138"), family_of("7400"), family_of("8838")
    ('74LS', '74', '')
    """
    match = re.fullmatch(r"(?:54|74)(LS|[HLS])?\d+[A-Z]*", number)
    return "" if match is None else "74" + (match[1] or "")


@lru_cache(maxsize=1)
def _by_number() -> Mapping[str, Part]:
    found: dict[str, Part] = {}
    for part in all_parts():
        for number in part.numbers:
            # 74LS74A is asked for as 74LS74, and the other way round
            found.setdefault(plain_number(number), part)
            found.setdefault(number, part)
    return found


def _part(entry: dict[str, Any]) -> Part:
    terms: dict[str, str] = entry.get("terms", {})
    equations = {name: equation(_spelled_out(text, terms)) for name, text in entry.get("equations", {}).items()}
    pins = {int(leg): name for leg, name in entry["pins"].items()}
    open_collector = set(entry.get("open_collector", ()))
    if entry["output"] == "open_collector":
        open_collector |= set(equations) - set(entry.get("totem_pole", ()))
    return Part(
        entry["number"],
        entry["title"],
        tuple(entry.get("same_pins", ())),
        MappingProxyType(pins),
        entry["vcc"],
        entry["gnd"],
        entry["kind"],
        entry["sure"],
        entry["sources"],
        MappingProxyType(equations),
        MappingProxyType({name: equation(text) for name, text in entry.get("enables", {}).items()}),
        frozenset(open_collector),
        entry.get("behaviour", ""),
        entry.get("asynchronous", ""),
        entry.get("note", ""),
    )


def _spelled_out(text: str, terms: Mapping[str, str]) -> str:
    """An equation with its terms put in, so that it names pins alone."""
    return re.sub(r"[A-Za-z][A-Za-z0-9_]*", lambda m: f"({terms[m[0]]})" if m[0] in terms else m[0], text)
