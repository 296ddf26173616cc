"""Logic families and what their inputs take and their outputs promise; each with its source."""

from __future__ import annotations

import tomllib
from dataclasses import dataclass
from functools import cache
from importlib.resources import files

from tracecore.errors import RequestError


@dataclass(frozen=True, slots=True)
class Family:
    """Limits in volts. ``status`` is "seen" where the source was read, "memory" where it was not."""

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


@cache
def families() -> dict[str, Family]:
    """All families by name."""
    text = files("tracecore.measure").joinpath("families.toml").read_text("utf-8")
    return {name: Family(name=name, **limits) for name, limits in tomllib.loads(text).items()}


def family(name: str) -> Family:
    """The family of that name, in any case, with or without the leading ``74``.

    Raises RequestError where there is none.

    >>> family("ls").vih_v
    2.0
    """
    wanted = name.strip().upper() or "74"
    for candidate in (wanted, "74" + wanted):
        if candidate in families():
            return families()[candidate]
    if wanted in ("STANDARD", "TTL", "N"):
        return families()["74"]
    raise RequestError(
        f"Family {name!r} is not known; expected one of {', '.join(families())}. "
        "Name the family of the parts that drive this slot."
    )


def noise_margin(driver: Family, receiver: Family) -> tuple[float, float]:
    """Low and high noise margin in volts: VIL - VOL and VOH - VIH.

    >>> [round(v, 3) for v in noise_margin(family("74"), family("74"))]
    [0.4, 0.4]
    """
    return receiver.vil_v - driver.vol_v, driver.voh_v - receiver.vih_v
