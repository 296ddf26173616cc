"""One folder of small files for all tests of the command line."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.cli.every_command import fill


@pytest.fixture(scope="session")
def small_files(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """One small file of each kind, see ``every_command``; not to be written to."""
    folder = tmp_path_factory.mktemp("files")
    fill(folder)
    return folder
