"""Cases of which a run by default takes some, evenly; those marked ``long`` take the others too."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

import pytest


def thinned(cases: Iterable[Any], every: int = 2) -> list[Any]:
    """Each ``every``-th case as it is, the first among them, and the others marked ``long``."""
    found = []
    for at, case in enumerate(cases):
        values = case if isinstance(case, tuple) else (case,)
        found.append(case if at % every == 0 else pytest.param(*values, marks=pytest.mark.long))
    return found
