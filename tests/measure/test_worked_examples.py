"""Each worked example of the reference tables on levels, margins, loads, edges and limits, by the program's own means.

``tests/data/ttl/checks.csv`` has each with what is given, what comes out and the id of its source in ``sources.csv``;
the id of a test names the source. MEM-... and PRACTICE there mean: from memory, and common practice.
"""

from __future__ import annotations

import csv
import math
from collections.abc import Callable
from fractions import Fraction
from pathlib import Path

import numpy as np
import pytest

from tracecore.capture import AnalogTrace
from tracecore.compare.timing_limits import entered_limits
from tracecore.measure.families import (
    Family,
    bus_idle_v,
    family,
    fan_out,
    hysteresis_state,
    input_level,
    least_pull_up_ohm,
    noise_margin,
    pull_up_ohm,
)
from tracecore.measure.instrument import combined_ps, instrument_transition_ps, signal_transition_ps
from tracecore.measure.level_figures import level_figures, overshoot_percent
from tracecore.measure.levels import digitise
from tracecore.measure.part_figures import part_figures, path_budget
from tracecore.measure.state_levels import reference_level
from tracecore.measure.timing import limit_verdict
from tracecore.measure.transition_times import _crossing

DATA = Path(__file__).parents[1] / "data" / "ttl"
TOPICS = {
    *("noise margin", "fan-out", "unit load", "level class", "Schmitt", "timing budget", "hold", "setup"),
    *("pulse width", "frequency", "propagation", "timing reference", "bus", "pull-up", "RC edge", "bandwidth"),
    "pulse terms",
}
TTL = family("74")
LS54 = "VIL=0.7 VIH=2.0 VOL=0.4 VOH=2.5"
"""A military part is entered by its limits: TI SDLS025B prints VIL 0.7 V, and VOL 0.4 V at 4 mA."""


def rows(name: str) -> dict[str, dict[str, str]]:
    with (DATA / name).open(encoding="utf-8", newline="") as file:
        return {row["id"]: row for row in csv.DictReader(file)}


CHECKS, SOURCES = rows("checks.csv"), rows("sources.csv")


def low(driver: str, receiver: str) -> float:
    return noise_margin(family(driver), family(receiver))[0]


def high(driver: str, receiver: str) -> float:
    return noise_margin(family(driver), family(receiver))[1]


def volts_class(name: str, volts: float) -> str:
    own = family(LS54) if name == "54ls" else family(name.upper().replace("LS", "LS"))
    found = input_level(own, volts)
    return {"undefined": "invalid"}.get(found, found)


def delay(number: str, from_pin: str, to_pin: str, condition: str = "") -> float:
    found = [
        r
        for r in part_figures(number).rows
        if r.parameter.startswith("tP")
        and (r.from_pin, r.to_pin) == (from_pin, to_pin)
        and (not condition or r.condition == condition)
    ]
    return max(r.most for r in found if r.most) / 1000


def one_end(both: int = 1) -> float:
    return 1 / (1 / 180 + 1 / 390) / both


def sunk_ma(ohm: float) -> float:
    return 1000 * (bus_idle_v(5.0) - family("bus").vol_v) / ohm


def rise(kilohm: float, picofarad: float, receiver: Family = TTL) -> tuple[float, float]:
    """10 to 90 % time, and time to VIH from 0.2 V, of an RC rise to 5 V, measured from samples of 0.1 ns."""
    tau = kilohm * picofarad * 10
    one = 0.2 + 4.8 * -np.expm1(-np.arange(round(200 * tau)) / tau)
    volts = np.concatenate((np.full(2000, 0.2), one, np.full(2000, 0.2), one)).astype(np.float32)
    found = level_figures(AnalogTrace(0, Fraction(100), volts), receiver, receiver)
    above = float(_crossing(volts, np.array([int((one < receiver.vih_v).sum()) + 2000]), receiver.vih_v)[0])
    return (found.rising.median_ps or 0) / 1000, (above - 2000) / 10


def ramp_ns() -> float:
    wave = np.interp(np.arange(20_000), np.repeat(np.arange(0, 20_000, 1000), 2) + np.tile([0, 100], 20), _corners())
    found = level_figures(AnalogTrace(0, Fraction(100), wave.astype(np.float32)), TTL, TTL)
    return (found.rising.median_ps or 0) / 1000


def _corners() -> np.ndarray:
    return np.array([v for k in range(20) for v in ((0.2, 3.4) if k % 2 == 0 else (3.4, 0.2))])


def runt() -> str:
    wave = np.full(2000, 0.2)
    wave[1000:1100] = np.concatenate((np.linspace(0.2, 1.6, 50), np.linspace(1.6, 0.2, 50)))
    return digitise(AnalogTrace(0, Fraction(100), wave.astype(np.float32)), TTL).events[0].kind


def least(number: str, pin: str, level: str) -> int:
    figure = part_figures(number).pulse(pin, level)
    assert figure is not None
    assert figure.least is not None
    return figure.least


def against(reading_ps: int, limit_ps: int | None) -> str:
    assert limit_ps is not None
    if limit_verdict(reading_ps, 0, limit_ps) == "violates":
        return f"violation by {(limit_ps - reading_ps) / 1000:g}"
    return "pass, zero margin" if reading_ps == limit_ps else "pass"


def setup_of(number: str) -> int | None:
    figure = part_figures(number).setup()
    return None if figure is None else figure.least


ANSWERS: dict[str, Callable[[], float | str]] = {
    "nm74l": lambda: low("74", "74"),
    "nm74h": lambda: high("74", "74"),
    "nmlsl": lambda: low("74LS", "74LS"),
    "nmlsh": lambda: high("74LS", "74LS"),
    "nmsl": lambda: low("74S", "74S"),
    "nmsh": lambda: high("74S", "74S"),
    "nmls_hc": lambda: high("74LS", "74HC"),
    "nm54ls": lambda: low(LS54, LS54),
    "fo_74_74": lambda: min(fan_out(TTL, TTL)),
    "fo_74S_74S": lambda: fan_out(family("74S"), family("74S"))[0],
    "fo_74LS_74LS": lambda: fan_out(family("74LS"), family("74LS"))[0],
    "fo_74LS_74": lambda: fan_out(family("74LS"), TTL)[0],
    "fo_74_74LS_low_side": lambda: fan_out(TTL, family("74LS"))[0],
    "fo_74_74LS_high_side": lambda: fan_out(TTL, family("74LS"))[1],
    "fo_74S_74": lambda: fan_out(family("74S"), TTL)[0],
    "fo_74_74S": lambda: fan_out(TTL, family("74S"))[0],
    "fo_74LS_74S": lambda: fan_out(family("74LS"), family("74S"))[0],
    "fo_7437_74": lambda: math.floor(48 / -(TTL.iil_ma or 0) + 1e-9),
    "ul_174": lambda: (family("74LS").iih_ma or 0) / (TTL.iih_ma or 1),
    **{
        key: (lambda key=key: volts_class(*key.removeprefix("cls").split("_")[:1], float(key.split("_")[1])))
        for key in CHECKS
        if key.startswith("cls")
    },
    **{
        key: (lambda key=key: hysteresis_state(family("7414"), "_high_" in key, float(key.rsplit("_", 1)[1])))
        for key in CHECKS
        if key.startswith("sch7414")
    },
    "sch_hyst": lambda: _typical("VT+") - _typical("VT-"),
    "t7474": lambda: path_budget(("7474", "7404", "7400", "7474")).total_ps / 1000,
    "f7474": lambda: path_budget(("7474", "7404", "7400", "7474")).highest_hz / 1e6,
    "t74s74": lambda: path_budget(("74S74", "74S00", "74S74")).total_ps / 1000,
    "slack20": lambda: path_budget(("74S74", "74S00", "74S74")).spare_ps(50_000) / 1000,
    "t16alu": lambda: (
        delay("74S181", "A or B", "G", "SUM") + delay("74S182", *_carry()) + delay("74S181", "CN", "F", "SUM or DIFF")
    ),
    "rip4": lambda: (
        delay("74S181", "A or B", "CN4", "SUM")
        + 2 * delay("74S181", "CN", "CN4")
        + delay("74S181", "CN", "F", "SUM or DIFF")
    ),
    "hold": lambda: against(1_500, (part_figures("74S74").hold() or pytest.fail("no hold")).least),
    "setup_ok": lambda: against(20_000, setup_of("7474")),
    "setup_bad": lambda: against(19_900, setup_of("7474")),
    "width": lambda: against(36_000, least("7474", "CLK", "low")),
    "width2": lambda: against(25_000, least("74LS74A", "CLK", "high")),
    "fmax161": lambda: "pass, boundary" if (part_figures("74161").highest_clock() or 0).least == 25_000_000 else "",
    "prop_ok": lambda: f"within {delay_7400_ns():.0f} max" if delay_7400_ns() >= 15.0 else "",
    "prop_late": lambda: f"late by {18 - delay_7400_ns():.0f}",
    "vref": lambda: family("74LS").vref_v,
    "bus_idle": lambda: bus_idle_v(5.0),
    "bus_rth": lambda: one_end(),
    "bus_rth2": lambda: one_end(2),
    "bus_sink": lambda: sunk_ma(one_end(2)),
    "bus_load": lambda: 5 * 200 / 291,
    "bus_onelow": lambda: sunk_ma(one_end()),
    "pu_max": lambda: pull_up_ohm(4.75, 2.4, outputs=4, leak_ma=0.25, inputs=3, iih_ma=TTL.iih_ma) / 1000,
    "pu_min": lambda: least_pull_up_ohm(5.25, 0.4, iol_ma=48, inputs=3, iil_ma=TTL.iil_ma),
    "rc1090": lambda: rise(1, 50)[0],
    "rc_vih": lambda: rise(1, 50)[1],
    "rc_probe": lambda: rise(1, 10)[0],
    "bw100": lambda: instrument_transition_ps(100e6) / 1000,
    "bw350": lambda: 350 / (instrument_transition_ps(350e6) / 1000),
    "rss": lambda: combined_ps(3000, 3500) / 1000,
    "rss3": lambda: combined_ps(6000, 3500, 3500) / 1000,
    "rss_inv": lambda: (signal_transition_ps(5000, 3500) or 0) / 1000,
    "p10": lambda: reference_level(0.2, 3.4, 10),
    "p50": lambda: reference_level(0.2, 3.4, 50),
    "p90": lambda: reference_level(0.2, 3.4, 90),
    "ptr": ramp_ns,
    "pov": lambda: overshoot_percent(3.72, 3.4, 3.2),
    "pun": lambda: -overshoot_percent(-0.28, 0.2, 3.2),
    "pinterp": lambda: 20 + 10 * float(_crossing(np.array([1.0, 2.0], np.float32), np.array([1]), 1.5)[0]),
    "prunt": runt,
}


def _typical(symbol: str) -> float:
    return next(f.value for f in family("7414").figures if (f.symbol, f.bound) == (symbol, "typ"))


def _carry() -> tuple[str, str]:
    """The pins of the look-ahead carry whose longest delay is printed as 7 ns."""
    found = [r for r in part_figures("74S182").rows if r.parameter.startswith("tP") and r.most == 7_000]
    return found[0].from_pin, found[0].to_pin


def delay_7400_ns() -> float:
    return next(r.most or 0 for r in part_figures("7400").rows if r.parameter == "tPHL") / 1000


def _sources(key: str) -> str:
    return "; ".join(SOURCES[s]["title"] if s in SOURCES else s for s in CHECKS[key]["source"].split("+"))


@pytest.mark.parametrize("key", ANSWERS, ids=lambda key: f"{key}: {_sources(key)[:60]}")
def test_a_worked_example_comes_out(key: str) -> None:
    row = CHECKS[key]
    got = ANSWERS[key]()
    if isinstance(got, str):
        assert got in row["expected"] or row["expected"] == got
        assert got
        return
    # what is measured from samples is good to their step
    measured = {"rc1090": 0.05, "rc_vih": 0.05, "rc_probe": 0.05, "ptr": 0.01}.get(key, 0.0)
    assert got == pytest.approx(float(row["expected"]), abs=max(float(row["tolerance"] or 0), measured))


def test_no_example_of_these_topics_is_left_out() -> None:
    wanted = {key for key, row in CHECKS.items() if row["topic"] in TOPICS}
    assert wanted == set(ANSWERS)
    assert len(wanted) == 81
    for key in wanted:
        assert all(s in SOURCES or s.startswith(("PRACTICE", "MEM")) for s in CHECKS[key]["source"].split("+"))


def test_a_pulse_that_is_entered_is_judged_as_a_printed_one() -> None:
    own = entered_limits("low=37 ns")
    assert own is not None
    assert against(36_000, own.low_ps) == CHECKS["width"]["expected"]
