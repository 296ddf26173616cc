"""Published figures of parts: delays, setup, hold, pulse duration and highest clock, as their sheets print them.

The table is ``figures/timing.csv``: 5 V, 25 degC, at the load that stands beside each figure. A board adds load, so
some nanoseconds over a printed maximum are not by themselves a fault.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from difflib import get_close_matches
from functools import cache

from tracecore.errors import RequestError
from tracecore.measure.families import rows

PS_PER_NS = 1000
_CONTROL = re.compile(r"CLR|PRE|LOAD|inactive|ENP|ENT|EN_n|S0|S1|WS|mode|select|G_n|CE_n|WE_n", re.IGNORECASE)
"""Pins that are not the data of a register; they have setup figures of their own."""


@dataclass(frozen=True, slots=True)
class PartFigure:
    """One row: ``parameter`` is tPLH, tPHL, tsu, th, tw, fmax or another of the sheet's; in picoseconds (fmax: hertz).

    ``least``, ``typical`` and ``most`` are what the sheet prints as min, typ and max; None where it prints none.
    """

    part: str
    parameter: str
    from_pin: str
    to_pin: str
    condition: str
    least: int | None
    typical: int | None
    most: int | None
    load: str
    status: str
    source: str


@dataclass(frozen=True, slots=True)
class PartFigures:
    """All figures of one part; ``edge`` is its clock's active edge, empty where it has none."""

    part: str
    family: str
    function: str
    rows: tuple[PartFigure, ...]

    @property
    def edge(self) -> str:
        """ "rising", "falling" or nothing."""
        return next((word for word in ("rising", "falling") if f"{word} edge" in self.function), "")

    @property
    def clocked(self) -> bool:
        """Has the part setup or hold figures?"""
        return any(row.parameter in ("tsu", "th") for row in self.rows)

    def setup(self, pin: str = "") -> PartFigure | None:
        """The setup figure of a pin; without one the strictest of the data pins."""
        return self._strictest("tsu", pin)

    def hold(self, pin: str = "") -> PartFigure | None:
        """The hold figure of a pin; without one the strictest of the data pins."""
        return self._strictest("th", pin)

    def pulse(self, pin: str, level: str = "") -> PartFigure | None:
        """The least pulse duration at a pin, high or low; a figure without a level serves for both."""
        found = [r for r in self.rows if r.parameter == "tw" and _names(pin, r)]
        told = [r for r in found if level and re.search(rf"\b{level}\b", r.from_pin)]
        either = [r for r in found if not re.search(r"\b(high|low)\b", r.from_pin)]
        return _worst(told or either)

    def delay(self, from_pin: str = "", to_pin: str = "") -> PartFigure | None:
        """The longest printed propagation delay between two pins; without names, of the clock or of any input."""
        delays = [r for r in self.rows if r.parameter.startswith(("tP", "tp")) and r.most is not None]
        if from_pin:
            delays = [r for r in delays if from_pin.upper() in r.from_pin.upper()]
        elif clock := [r for r in delays if re.fullmatch(r"CLK|CP|C", r.from_pin)]:
            delays = clock
        if to_pin:
            delays = [r for r in delays if to_pin.upper() in r.to_pin.upper()]
        return max(delays, key=lambda row: row.most or 0, default=None)

    def highest_clock(self) -> PartFigure | None:
        """The clock that every such part takes."""
        return next((r for r in self.rows if r.parameter == "fmax"), None)

    def _strictest(self, parameter: str, pin: str) -> PartFigure | None:
        found = [r for r in self.rows if r.parameter == parameter]
        if pin:
            named = [r for r in found if _names(pin, r)]
            if not named and any(r.parameter == "tw" and _names(pin, r) for r in self.rows):
                # a clock or a clear has pulse durations; the figures of the data are not its own
                return None
            return _worst(named or [r for r in found if "any" in r.from_pin] or found)
        return _worst([r for r in found if not _CONTROL.search(r.from_pin)] or found)


def _names(pin: str, row: PartFigure) -> bool:
    """Is the row about that pin?"""
    return bool(re.search(rf"(?<![A-Z]){re.escape(pin.upper())}(?![A-Z])", row.from_pin.upper()))


def _worst(found: list[PartFigure]) -> PartFigure | None:
    return max((r for r in found if r.least is not None), key=lambda row: row.least or 0, default=None)


@cache
def all_parts() -> dict[str, PartFigures]:
    """Every part of the table by its number."""
    titles = {row["id"]: row["title"] for row in rows("sources.csv")}
    taken: dict[str, list[PartFigure]] = {}
    facts: dict[str, tuple[str, str]] = {}
    for row in rows("timing.csv"):
        if row["parameter"] == "tw(out)":
            continue
        facts[row["part"]] = row["family"], row["function"]
        factor = 10**6 if row["unit"] == "MHz" else PS_PER_NS
        least, typical, most = (
            round(float(row[bound]) * factor) if row[bound] else None for bound in ("min", "typ", "max")
        )
        source = re.sub(r"[A-Z]+-[A-Z0-9]+", lambda found: titles.get(found.group(0), found.group(0)), row["source"])
        taken.setdefault(row["part"], []).append(
            PartFigure(
                row["part"],
                row["parameter"],
                row["from_pin"],
                row["to_pin"],
                row["condition"],
                least,
                typical,
                most,
                row["load"],
                row["status"],
                source,
            )
        )
    return {part: PartFigures(part, *facts[part], tuple(own)) for part, own in taken.items()}


def part_figures(number: str) -> PartFigures:
    """The figures of a part, whatever case it is written in, with or without a maker's prefix or revision letter.

    Raises RequestError, with near numbers, where the table has none.

    >>> part_figures("SN7474N").setup().least
    20000
    """
    wanted = re.sub(r"^(SN|DM|N|MC|HD)(?=\d)", "", number.strip().upper())
    tries = (wanted, wanted.rstrip("NJPW"), wanted + "A", wanted.rstrip("ABC"))
    for candidate in tries:
        if candidate in all_parts():
            return all_parts()[candidate]
    near = get_close_matches(wanted, all_parts(), n=3, cutoff=0.6)
    hint = f" Near it: {', '.join(near)}." if near else ""
    raise RequestError(
        f"Part {number!r} has no timing figures here.{hint} Choose another part, or enter setup and hold."
    )


@dataclass(frozen=True, slots=True)
class PathBudget:
    """A sum of printed maxima along a path. ``steps`` are part numbers and the figure of each."""

    steps: tuple[tuple[str, PartFigure], ...]

    @property
    def durations_ps(self) -> tuple[int, ...]:
        """The longest each step takes; the last one is the setup time of the register."""
        return tuple((f.least if f.parameter == "tsu" else f.most) or 0 for _, f in self.steps)

    @property
    def total_ps(self) -> int:
        """The sum of maxima."""
        return sum(self.durations_ps)

    @property
    def highest_hz(self) -> float:
        """The highest clock that the path allows."""
        return 1e12 / self.total_ps

    def spare_ps(self, cycle_ps: int) -> int:
        """What a cycle leaves; below zero where the path needs more."""
        return cycle_ps - self.total_ps


def path_budget(chain: tuple[str, ...]) -> PathBudget:
    """Delays of a chain from one register to the next: clock to output, gates, and the setup of the last part.

    A word is a part's number, or ``part:from>to`` with pins (``74S181:CN>F``). Raises RequestError for an unknown part,
    a chain of less than two, or one that does not end at a part with a setup time.

    >>> path_budget(("7474", "7404", "7400", "7474")).durations_ps
    (40000, 22000, 22000, 20000)
    """
    if len(chain) < 2:
        raise RequestError("A path needs at least two parts: the one that starts it, and the register it ends at.")
    out: list[tuple[str, PartFigure]] = []
    for i, word in enumerate(chain):
        number, _, pins = word.partition(":")
        from_pin, _, to_pin = pins.partition(">")
        part = part_figures(number)
        last = i == len(chain) - 1
        figure = part.setup(from_pin) if last and not to_pin else part.delay(from_pin, to_pin)
        if figure is None:
            lacks = "no printed setup time" if last else "no printed delay" + (f" from {pins}" if pins else "")
            raise RequestError(f"Path: {number} has {lacks}. Choose another part, or name its pins as in 74S181:CN>F.")
        out.append((number, figure))
    return PathBudget(tuple(out))
