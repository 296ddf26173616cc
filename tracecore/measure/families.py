"""Logic families: what their inputs take and their outputs promise, each figure with its source and how sure it is.

The figures stand in ``figures/levels.csv`` and ``figures/schmitt.csv``; a family is made of them, so that a figure
stands in one place. ``status`` is "seen" where the source was read, "memory" where it was not, and "entered" where a
person typed the limits.
"""

from __future__ import annotations

import csv
import re
from dataclasses import dataclass, replace
from difflib import get_close_matches
from functools import cache
from importlib.resources import files
from typing import Literal

from tracecore.errors import RequestError

BUS = "bus"
"""The terminated open-collector backplane bus: 120 ohm line, 180 ohm to 5 V and 390 ohm to ground at its ends."""
BUS_IDLE_OHM = (180.0, 390.0)
SCHMITT = ("7413", "7414", "74132", "74LS13", "74LS14", "74LS132", "74S132", "74ALS14")
OPEN_INPUT_V = (1.1, 1.8)
"""Where an open input may rest: near 1.1 V for 74LS (from memory), 1.4 to 1.5 V for 74 (Bench Briefs,
1st quarter 1996); the ends of the band are common practice."""


@dataclass(frozen=True, slots=True)
class Figure:
    """One printed figure: ``value`` in ``unit``, "min", "typ" or "max" as the sheet gives it."""

    symbol: str
    bound: str
    value: float
    unit: str
    condition: str
    status: str
    source: str


_LEVELS = (("VIL", "max"), ("VIH", "min"), ("VOL", "max"), ("VOH", "min"), ("VT-", "min"), ("VT+", "max"))


@dataclass(frozen=True, slots=True)
class Family:
    """Limits in volts, currents in milliampere (0 where none is printed). ``status`` is that of the least sure limit.

    ``vik_v`` is where the input clamp is rated, ``vi_abs_v`` the absolute maximum at an input. ``hysteresis`` inputs
    take slow transitions; their VIL is the least VT- and their VIH the greatest VT+. ``open_collector`` outputs make
    no high of their own.
    """

    name: str
    vil_v: float
    vih_v: float
    vol_v: float
    voh_v: float
    vcc_min_v: float
    vcc_max_v: float
    vref_v: float
    source: str
    status: str
    vik_v: float = -1.5
    vi_abs_v: float = 5.5
    iol_ma: float = 0.0
    ioh_ma: float = 0.0
    iil_ma: float = 0.0
    iih_ma: float = 0.0
    hysteresis: bool = False
    open_collector: bool = False
    figures: tuple[Figure, ...] = ()

    @property
    def cited(self) -> str:
        """The source as a printed sheet cites it: by the number of the document, where it has one."""
        short = {row["source"]: row["cited"] for row in rows("citations.csv")}
        parts = dict.fromkeys(f.source for f in self.figures if (f.symbol, f.bound) in _LEVELS) or [self.source]
        return ", ".join(dict.fromkeys(short.get(part, part) for part in parts))

    def figure(self, symbol: str, bound: str) -> Figure | None:
        """The printed figure of that symbol, ``VOH`` and ``min`` for instance; None where none is printed."""
        return next((f for f in self.figures if f.symbol == symbol and f.bound == bound), None)


def rows(name: str) -> list[dict[str, str]]:
    """The rows of one table of figures that travels with the package."""
    text = files("tracecore.measure").joinpath("figures", name).read_text("utf-8")
    return list(csv.DictReader(text.splitlines()))


@cache
def families() -> dict[str, Family]:
    """All families by name: the eleven of the data books, the bus, and the inputs with hysteresis."""
    printed: dict[str, list[Figure]] = {}
    for row in rows("levels.csv"):
        if row["bound"] == "range":
            continue
        figure = Figure(
            row["symbol"],
            row["bound"],
            float(row["value"]),
            row["unit"],
            row["condition"],
            row["status"],
            row["source"],
        )
        printed.setdefault(row["family"], []).append(figure)
    made = {name: _family(name, tuple(figures)) for name, figures in printed.items()}
    return {**made, BUS: _bus(), **{part: _schmitt(part, made) for part in SCHMITT}}


_VREF_FROM_MEMORY = {"74L": 1.3, "74ALS": 1.3, "74F": 1.5, "74AS": 1.3, "74HC": 2.25, "74HCT": 1.3}
"""Where the table gives no voltage at which delays are measured; from memory."""


def _family(name: str, figures: tuple[Figure, ...]) -> Family:
    at = {(f.symbol, f.bound): f for f in figures}
    levels = [at["VIL", "max"], at["VIH", "min"], at["VOL", "max"], at["VOH", "min"]]
    least_sure = "memory" if any(f.status == "memory" for f in levels) else "seen"

    def value(symbol: str, bound: str, otherwise: float) -> float:
        found = at.get((symbol, bound))
        return otherwise if found is None else found.value

    return Family(
        name=name,
        vil_v=levels[0].value,
        vih_v=levels[1].value,
        vol_v=levels[2].value,
        voh_v=levels[3].value,
        vcc_min_v=at["VCC", "min"].value,
        vcc_max_v=at["VCC", "max"].value,
        vref_v=value("VREF_TIMING", "nom", _VREF_FROM_MEMORY.get(name, 1.5)),
        source="; ".join(dict.fromkeys(f.source for f in levels)),
        status=least_sure,
        vik_v=value("VIK", "max", -1.5 if name.startswith("74") and "HC" not in name else -0.5),
        vi_abs_v=value("VI_ABS", "max", 7.0 if "HC" not in name else 6.0),
        iol_ma=value("IOL", "max", 0.0),
        ioh_ma=value("IOH", "max", 0.0),
        iil_ma=value("IIL", "max", 0.0),
        iih_ma=value("IIH", "max", 0.0),
        figures=figures,
    )


def _bus() -> Family:
    """Driver and receiver of the 8838; the high is what the terminators make at the least supply."""
    source = "DM7838/DM8838 quad unified bus transceiver data sheet"
    given = [(r["symbol"], b, r[b]) for r in rows("schmitt.csv") if r["part"] == "8838" for b in ("min", "typ", "max")]
    figures = tuple(Figure(s, b, float(v), "V", "bus receiver", "seen", source) for s, b, v in given if v)
    figures += (
        Figure("VOL", "max", 0.7, "V", "50 mA", "seen", source),
        Figure("IOL", "max", 50.0, "mA", "", "seen", source),
    )
    at = {(f.symbol, f.bound): f.value for f in figures}
    return Family(
        BUS,
        vil_v=at["VT-", "min"],
        vih_v=at["VT+", "max"],
        vol_v=0.7,
        voh_v=bus_idle_v(4.75),
        vcc_min_v=4.75,
        vcc_max_v=5.25,
        vref_v=1.5,
        source=source,
        status="seen",
        iol_ma=50.0,
        hysteresis=True,
        open_collector=True,
        figures=figures,
    )


def _schmitt(part: str, made: dict[str, Family]) -> Family:
    of_part = {r["symbol"]: r for r in rows("schmitt.csv") if r["part"] == part}
    base = made[next(n for n in ("74ALS", "74LS", "74S", "74") if part.startswith(n))]
    figures = tuple(
        Figure(r["symbol"], bound, float(r[bound]), "V", "VCC=5 V", r["status"], r["source"])
        for r in of_part.values()
        for bound in ("min", "typ", "max")
        if r[bound]
    )
    kept = tuple(f for f in base.figures if f.symbol not in ("VIL", "VIH"))
    low, high = of_part["VT-"], of_part["VT+"]
    return replace(
        base,
        name=part,
        vil_v=float(low["min"]),
        vih_v=float(high["max"]),
        source=f"{low['source']} (thresholds); {base.source}",
        status="memory" if "memory" in (low["status"], base.status) else "seen",
        hysteresis=True,
        figures=(*figures, *kept),
    )


def family(name: str) -> Family:
    """The family of that name, in any case, with or without the leading ``74``; or limits as a person enters them.

    Raises RequestError where there is none, with near names, and where entered limits lie crosswise.

    >>> family("ls").vih_v
    2.0
    >>> family("VIL=0.7 VIH=2.1 VOL=0.4 VOH=2.6").vih_v
    2.1
    """
    if "=" in name:
        return _entered(name)
    wanted = name.strip().upper() or "74"
    known = {n.upper(): n for n in families()}
    for candidate in (wanted, "74" + wanted):
        if candidate in known:
            return families()[known[candidate]]
    if wanted in ("STANDARD", "TTL", "N"):
        return families()["74"]
    near = get_close_matches(wanted, known, n=3, cutoff=0.6) or get_close_matches("74" + wanted, known, n=3, cutoff=0.6)
    hint = f"Near it: {', '.join(known[n] for n in near)}. " if near else ""
    raise RequestError(
        f"Family {name!r} is not known; expected one of {', '.join(families())}. {hint}"
        "Name the family of the parts that drive this slot, or enter limits as VIL=0.8 VIH=2.0 VOL=0.4 VOH=2.4."
    )


_LIMIT = re.compile(r"(VIL|VIH|VOL|VOH)\s*=\s*([+-]?\d+(?:\.\d+)?)(?:\s*V\b)?", re.IGNORECASE)


def _entered(text: str) -> Family:
    """A family from limits that a person typed, in volts."""
    given = {symbol.upper(): float(value) for symbol, value in _LIMIT.findall(text)}
    rest = _LIMIT.sub("", text).strip(" ,;")
    lacks = [s for s in ("VIL", "VIH", "VOL", "VOH") if s not in given]
    if rest or lacks:
        found = f"{rest!r} besides" if rest else f"{', '.join(lacks)} missing"
        raise RequestError(f"Limits {text!r}: {found}; expected VIL=0.8 VIH=2.0 VOL=0.4 VOH=2.4, in volts.")
    vil, vih, vol, voh = (given[s] for s in ("VIL", "VIH", "VOL", "VOH"))
    for lower, upper, low, high in (("VIL", "VIH", vil, vih), ("VOL", "VOH", vol, voh)):
        if low >= high:
            raise RequestError(
                f"Limits {text!r}: {lower} {low:g} V is not below {upper} {high:g} V. Enter {lower} as the lower one."
            )
    return Family(text.strip(), vil, vih, vol, voh, 4.75, 5.25, 1.5, "entered by hand", "entered")


def at_supply(limits: Family, supply_v: float) -> Family:
    """The same family at another supply: 74HC inputs follow it (0.3 and 0.7 of it), 74AS and 74ALS highs are 2 V below
    it, the bus's high is what its terminators make. Other limits are printed for the whole range.

    >>> at_supply(family("74HC"), 5.0).vih_v
    3.5
    """
    if limits.name == "74HC":
        share = supply_v / 4.5
        return replace(limits, vil_v=round(1.35 * share, 3), vih_v=round(3.15 * share, 3), voh_v=supply_v - 0.1)
    if limits.name in ("74AS", "74ALS"):
        return replace(limits, voh_v=supply_v - 2.0)
    if limits.name == BUS:
        return replace(limits, voh_v=bus_idle_v(supply_v))
    return limits


def supply_trouble(limits: Family, supply_v: float) -> str:
    """A sentence where the supply is outside the family's range, so that no level can be judged; else nothing."""
    if limits.vcc_min_v <= supply_v <= limits.vcc_max_v:
        return ""
    return (
        f"The supply is {supply_v:g} V; {limits.name} is promised from {limits.vcc_min_v:g} to {limits.vcc_max_v:g} V, "
        "so no level is judged. Measure the supply at the chip's own pins."
    )


def bus_idle_v(supply_v: float) -> float:
    """What a line of the bus rests at while no one drives it, in volts.

    >>> round(bus_idle_v(5.0), 4)
    3.4211
    """
    up, down = BUS_IDLE_OHM
    return supply_v * down / (up + down)


def noise_margin(driver: Family, receiver: Family) -> tuple[float, float]:
    """Low and high noise margin in volts: VIL - VOL and VOH - VIH.

    >>> [round(v, 3) for v in noise_margin(family("74"), family("74"))]
    [0.4, 0.4]
    """
    return receiver.vil_v - driver.vol_v, driver.voh_v - receiver.vih_v


def fan_out(driver: Family, receiver: Family) -> tuple[int, int]:
    """How many inputs an output drives by its currents, low side and high side.

    Raises RequestError where a current is not printed.

    >>> fan_out(family("74LS"), family("74"))
    (5, 10)
    """
    if not (driver.iol_ma and driver.ioh_ma and receiver.iil_ma and receiver.iih_ma):
        raise RequestError(f"{driver.name} into {receiver.name}: a current is not printed, so fan-out is not known.")
    low, high = driver.iol_ma / -receiver.iil_ma, driver.ioh_ma / -receiver.iih_ma
    return int(low + 1e-9), int(high + 1e-9)


InputLevel = Literal["low", "undefined", "high", "over absolute maximum", "past clamp rating"]


def input_level(receiver: Family, volts: float) -> InputLevel:
    """How an input takes a level. At VIL it still counts as low, at VIH as high.

    >>> input_level(family("74"), 0.8), input_level(family("74"), 1.45)
    ('low', 'undefined')
    """
    if volts > receiver.vi_abs_v:
        return "over absolute maximum"
    if volts < receiver.vik_v:
        return "past clamp rating"
    if volts <= receiver.vil_v:
        return "low"
    return "high" if volts >= receiver.vih_v else "undefined"


def hysteresis_state(receiver: Family, was_high: bool, volts: float) -> Literal["low", "high", "undefined"]:
    """What an input with hysteresis reads, by the spread of its thresholds over parts, after ``volts`` arrive.

    >>> hysteresis_state(family("7414"), False, 1.49), hysteresis_state(family("7414"), True, 1.30)
    ('low', 'high')
    """
    at = {(f.symbol, f.bound): f.value for f in receiver.figures}
    if was_high:
        low, stays = at["VT-", "min"], at["VT-", "max"]
        return "low" if volts < low else "high" if volts > stays else "undefined"
    stays, high = at["VT+", "min"], at["VT+", "max"]
    return "high" if volts > high else "low" if volts < stays else "undefined"


def pull_up_ohm(supply_v: float, voh_v: float, *, outputs: int, leak_ma: float, inputs: int, iih_ma: float) -> float:
    """The largest pull-up in ohm that still makes a high (DM54LS12/DM74LS12 data sheet).

    >>> round(pull_up_ohm(4.75, 2.4, outputs=4, leak_ma=0.25, inputs=3, iih_ma=0.04))
    2098
    """
    return 1000 * (supply_v - voh_v) / (outputs * leak_ma + inputs * iih_ma)


def least_pull_up_ohm(supply_v: float, vol_v: float, *, iol_ma: float, inputs: int, iil_ma: float) -> float:
    """The smallest pull-up in ohm against which one output still makes a low (DM54LS12/DM74LS12 data sheet).

    >>> round(least_pull_up_ohm(5.25, 0.4, iol_ma=48, inputs=3, iil_ma=-1.6), 2)
    112.27
    """
    return 1000 * (supply_v - vol_v) / (iol_ma - inputs * abs(iil_ma))
