"""The known-good capture that every soak is held against."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.soak.small_captures import capture_text, put
from tracecore.capture_series import Reference, SeriesRequest, reference
from tracecore.readers import read_capture


@pytest.fixture(scope="module")
def good(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return put(tmp_path_factory.mktemp("good"), "good.csv", capture_text())


@pytest.fixture(scope="module")
def against(good: Path) -> Reference:
    return reference(SeriesRequest((read_capture(good),), clock="CLK"))
