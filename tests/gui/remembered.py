"""Comparisons that the windows of one run of the tests share: the same request is compared once.

What a window does with an answer is looked at in ``gui``, and most of its tests begin with the same few captures. The
answers themselves are tested in ``compare``, ``lineup`` and ``causes``, and there nothing is remembered.
"""

from __future__ import annotations

import hashlib
import io
import pickle
from collections import OrderedDict
from collections.abc import Callable
from types import MappingProxyType

from tracecore.comparison import CompareRequest, Comparison

Progress = Callable[[float, str], None]
MOST = 24
"""So many are kept, the last that were asked for."""


class Remembered:
    """``compare`` that gives the same answer again, which nobody can write to, for a request of the same contents."""

    def __init__(self, compare: Callable[[CompareRequest, Progress | None], Comparison]) -> None:
        self._compare = compare
        self._found: OrderedDict[bytes, Comparison] = OrderedDict()

    def __call__(self, request: CompareRequest, progress: Progress | None = None) -> Comparison:
        # every trace, name, setting and probe is in the key; one that differs in a bit is compared anew
        key = hashlib.sha256(contents(request)).digest()
        found = self._found.pop(key, None)
        if found is None:
            found = self._compare(request, progress)
        self._found[key] = found
        while len(self._found) > MOST:
            self._found.pop(next(iter(self._found)), None)
        return found


class _Contents(pickle.Pickler):
    """Takes a mapping that cannot be written to for the dictionary behind it."""

    def reducer_override(self, value: object) -> object:
        if isinstance(value, MappingProxyType):
            return dict, (dict(value),)
        return NotImplemented


def contents(request: CompareRequest) -> bytes:
    """All that a request holds; equal for equal contents, whichever objects hold them."""
    written = io.BytesIO()
    pickler = _Contents(written, protocol=5)
    # without references to what was written before, which depend on what is the same object
    pickler.fast = True
    pickler.dump(request)
    return written.getvalue()
