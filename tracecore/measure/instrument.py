"""What the instrument does to a waveform: what it cannot show, and what must be known before any level is judged."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal

import numpy as np

from tracecore.capture import Float32
from tracecore.measure.state_levels import StateLevels, state_levels, thinned

TroubleKind = Literal["clipped", "AC-coupled", "probe factor", "supply"]
_SHARE_AT_TOP = 0.02
_FLAT = 20
"""So many times more readings at the very end than just inside it: a screen's edge, no resting level."""


@dataclass(frozen=True, slots=True)
class Trouble:
    """Why levels are not judged, in one sentence with what to do. ``spoils_logic`` says whether the states that are
    read from such volts cannot be believed either."""

    kind: TroubleKind
    sentence: str
    spoils_logic: bool = False


def instrument_trouble(
    volts: Float32, levels: StateLevels, noise_v: tuple[float, float], limits_v: tuple[float, float]
) -> Trouble | None:
    """Is the trace clipped by the screen, AC-coupled, or was a probe's factor forgotten? None where it is fit.

    All three are recognised by what logic does: it rests near ground when low, and above 2 V when high. ``noise_v`` is
    the standard deviation while it rests low and while it rests high; ``limits_v`` are the input's limits low and high.
    """
    return _probe_factor(levels) or _coupled(levels) or _clipped(volts, levels, noise_v, limits_v)


def logic_trouble(volts: Float32, limits_v: tuple[float, float]) -> Trouble | None:
    """The same, quickly, of what spoils the states at any ``limits_v``: a probe's factor, or an AC-coupled input."""
    levels = state_levels(volts, *limits_v)
    return _probe_factor(levels) or _coupled(levels)


def _probe_factor(levels: StateLevels) -> Trouble | None:
    low, high = levels.low_v, levels.high_v
    top = levels.edges_v[-1]
    if low is None or high is None:
        low, high = _two_modes(levels)
    amplitude = high - low
    if top < 0.7 and amplitude > 0.15 and -0.05 < low < 0.1 and 0.2 <= high <= 0.55:
        return Trouble(
            "probe factor",
            f"Low at {low:.2f} V and high at {high:.2f} V: a tenth of logic levels, so a 10:1 probe's factor may be "
            "missing. Say x10 for this channel.",
            True,
        )
    if high > 12 and -4 < low < 10 and amplitude > 10:
        return Trouble(
            "probe factor",
            f"Low at {low:.1f} V and high at {high:.1f} V: ten times logic levels, so a factor of 10 may be "
            "counted twice. Say x0.1 for this channel.",
            True,
        )
    return None


def _two_modes(levels: StateLevels) -> tuple[float, float]:
    """Where the samples heap up in the lower and in the upper half of what was seen."""
    centres = (levels.edges_v[1:] + levels.edges_v[:-1]) / 2
    half = len(centres) // 2
    if half < 2:
        return float(centres[0]), float(centres[0])
    low, high = centres[:half][levels.counts[:half].argmax()], centres[half:][levels.counts[half:].argmax()]
    return float(low), float(high)


def _coupled(levels: StateLevels) -> Trouble | None:
    low, high = _two_modes(levels) if levels.low_v is None or levels.high_v is None else (levels.low_v, levels.high_v)
    amplitude = high - low
    if amplitude > 1.5 and low < -0.35 and abs(levels.mean_v) < 0.06 * amplitude:
        return Trouble(
            "AC-coupled",
            f"The trace lies around 0 V ({low:.2f} to {high:.2f} V): the input may be AC-coupled. "
            "Capture again with DC coupling.",
            True,
        )
    return None


def _clipped(
    volts: Float32, levels: StateLevels, noise_v: tuple[float, float], limits_v: tuple[float, float]
) -> Trouble | None:
    part = thinned(volts)
    step = max(levels.step_v, 1e-4)
    ends = (float(part.max()), 1, *noise_v[::-1]), (float(part.min()), -1, *noise_v)
    for end, sign, own_noise, other_noise in ends:
        inward = (end - part) * sign
        at_end = float(np.mean(inward < step / 2))
        just_inside = float(np.mean((inward >= step / 2) & (inward < max(6 * step, 0.03))))
        # a level that merely rests there is as unquiet as the other one, and spreads to both sides of its mode
        quiet = own_noise < 0.25 * other_noise and other_noise > max(0.3 * step, 0.002)
        if at_end > _SHARE_AT_TOP and at_end > _FLAT * just_inside and quiet:
            where = "top" if sign > 0 else "bottom"
            return Trouble(
                "clipped",
                f"{100 * at_end:.0f} % of the samples stand at {end:.2f} V exactly: the {where} is cut off by the "
                "screen. Capture again with more volts a division.",
                end < limits_v[1] if sign > 0 else end > limits_v[0],
            )
    return None


def instrument_transition_ps(bandwidth_hz: float) -> float:
    """The 10 to 90 % time that a bandwidth alone makes, 0.35 / BW (single pole; an instrument maker's rule).

    >>> round(instrument_transition_ps(100e6))
    3500
    """
    return 0.35e12 / bandwidth_hz


def combined_ps(*parts_ps: float) -> float:
    """Transition times in a row, by the root of the sum of squares (a rule without a stated error bound).

    >>> round(combined_ps(3000, 3500))
    4610
    """
    return math.sqrt(sum(part * part for part in parts_ps))


def signal_transition_ps(measured_ps: float, instrument_ps: float) -> float | None:
    """The signal's own transition time; None where the instrument is too slow to tell it.

    Under 1.4 times the instrument's own time, a small error of either takes most of the difference.

    >>> round(signal_transition_ps(5000, 3500)), signal_transition_ps(4000, 3500)
    (3571, None)
    """
    if measured_ps <= 1.4 * instrument_ps:
        return None
    return math.sqrt(measured_ps**2 - instrument_ps**2)
