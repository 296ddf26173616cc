"""Names of files as text: a name need not be any."""

from __future__ import annotations

import os
import re
from pathlib import Path

_NO_TEXT = re.compile("[\ud800-\udfff]")


def as_text(text: str) -> str:
    """The text with a sign of replacement for each byte of a name that is no text (PEP 383 carries them along).

    >>> as_text("run\\udcff.csv") == "run\\N{REPLACEMENT CHARACTER}.csv"
    True
    """
    return _NO_TEXT.sub("\N{REPLACEMENT CHARACTER}", text)


def file_name(path: str | os.PathLike[str]) -> str:
    """The name of a file, without its folders, as text.

    >>> file_name("captures/run1.csv")
    'run1.csv'
    """
    return as_text(Path(path).name)
