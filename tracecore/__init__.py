"""What a known-good and a suspect board did on the same pins, and where they part.

Pure computation: nothing in this package draws or knows a window.

    from tracecore import read_capture, compare
    found = compare(read_capture("north.csv"), read_capture("south.csv"), clock="MCLK")
    found.signal_table

Names are fetched when they are asked for, so that importing the package alone costs nothing. The program itself calls
``tracecore.comparison.compare``, which takes one request.
"""

from __future__ import annotations

import sys
from importlib import import_module
from types import ModuleType
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from tracecore.capture import Capture
    from tracecore.comparison import Comparison
    from tracecore.notebook import compare
    from tracecore.readers import read_capture

__all__ = ["Capture", "Comparison", "compare", "read_capture"]

_ROOMS = {
    "Capture": "tracecore.capture",
    "Comparison": "tracecore.comparison",
    "read_capture": "tracecore.readers",
}


def __getattr__(name: str) -> Any:
    if name not in _ROOMS:
        raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
    return getattr(import_module(_ROOMS[name]), name)


def __dir__() -> list[str]:
    return sorted({*globals(), *__all__})


class _Package(ModuleType):
    """``compare`` is the function, although a room of that name sets itself as an attribute when it is imported."""

    @property
    def compare(self) -> Any:
        return import_module("tracecore.notebook").compare

    @compare.setter
    def compare(self, room: ModuleType) -> None:
        """The room is found by its full name all the same."""


sys.modules[__name__].__class__ = _Package
