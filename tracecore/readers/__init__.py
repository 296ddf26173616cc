"""Files to captures: ``reading`` knows the readers. Names are fetched when they are asked for, so that a program that
only wants to know what may be said of a file, before its first window, does not wait for every reader."""

from __future__ import annotations

from importlib import import_module
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from tracecore.readers.reading import READERS, Reader, read_capture

__all__ = ["READERS", "Reader", "read_capture"]


def __getattr__(name: str) -> Any:
    if name not in __all__:
        raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
    return getattr(import_module("tracecore.readers.reading"), name)
