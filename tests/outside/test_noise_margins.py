"""Levels and noise margins as data sheets give them.

Sources: 74: TI SDLS025, SN7400 (VIL 0.8, VIH 2.0, VOL 0.4, VOH 2.4 V; supply 4.75 to 5.25 V). 74LS: TI SDLS025B,
SN74LS00 (VOL 0.5 V at 8 mA, VOH 2.7 V). 74S: TI SDLS025, SN74S00 (VOL 0.5 V), and TI SDLS119, SN74S74 (VOH 2.7 V).
The margins are their differences: VIL - VOL and VOH - VIH.
"""

from __future__ import annotations

from fractions import Fraction

import numpy as np
import pytest

from tracecore.capture import AnalogTrace
from tracecore.measure.families import family, noise_margin
from tracecore.measure.levels import digitise

INTERVAL_PS = Fraction(10_000)


@pytest.mark.parametrize(
    ("name", "vol_v", "voh_v"), [("74", 0.4, 2.4), ("74LS", 0.5, 2.7), ("74S", 0.5, 2.7)], ids=["74", "74LS", "74S"]
)
def test_limits_are_those_of_the_data_sheets(name, vol_v, voh_v):
    one = family(name)
    assert (one.vil_v, one.vih_v, one.vol_v, one.voh_v) == (0.8, 2.0, vol_v, voh_v)
    assert (one.vcc_min_v, one.vcc_max_v) == (4.75, 5.25)
    assert one.status == "seen"
    assert "SDLS025" in one.source


@pytest.mark.parametrize(
    ("driver", "receiver", "low_v", "high_v"),
    [
        ("74", "74", 0.4, 0.4),
        ("74LS", "74LS", 0.3, 0.7),
        ("74S", "74S", 0.3, 0.7),
        ("74", "74LS", 0.4, 0.4),
        ("74LS", "74", 0.3, 0.7),
        ("74S", "74LS", 0.3, 0.7),
    ],
)
def test_margins_are_those_of_the_handbooks(driver, receiver, low_v, high_v):
    assert noise_margin(family(driver), family(receiver)) == pytest.approx((low_v, high_v), abs=1e-9)


@pytest.mark.parametrize(
    ("name", "vref_v"),
    # TI SDLS060: delays are measured at 1.5 V for the 160 to 163 and the S162 and S163, at 1.3 V for the LS parts
    [("74", 1.5), ("74S", 1.5), ("74LS", 1.3)],
)
def test_delays_are_measured_where_the_data_sheet_says(name, vref_v):
    assert family(name).vref_v == vref_v


# Both limits belong to their level: the sheet says at most 0.8 V and at least 2.0 V.
CLASSES = [
    (-0.4, 0),
    (0.0, 0),
    (0.4, 0),
    (0.8, 0),
    (0.801, 2),
    (1.2, 2),
    (1.45, 2),
    (1.999, 2),
    (2.0, 1),
    (2.4, 1),
    (3.4, 1),
    (5.25, 1),
]


@pytest.mark.parametrize(("volts", "level"), CLASSES)
def test_a_steady_level_is_classed_by_the_limits_of_the_input(volts, level):
    trace = AnalogTrace(0, INTERVAL_PS, np.full(200, volts, np.float32))
    read = digitise(trace, family("74"))
    assert read.digital.levels.tolist() == [level]
    assert bool(read.events) == (level == 2)


@pytest.mark.parametrize("name", ["74", "74LS", "74S"])
def test_what_an_output_promises_no_input_of_its_family_takes_amiss(name):
    one = family(name)
    volts = np.tile(np.repeat(np.array([one.vol_v, one.voh_v], np.float32), 50), 20)
    read = digitise(AnalogTrace(0, INTERVAL_PS, volts), one)
    assert read.events == ()
    assert len(read.digital.transitions_ps) == 39
