"""What more than one reader refuses, in one sentence each."""

from __future__ import annotations

from tracecore.errors import MalformedCapture

CORRECT_LINE = "Export the capture again, or correct this line."
END_LINE = "Export the capture again, or end this line if it is whole."
GIVE_RATE = (
    'Give the sample rate, as --rate "24 MHz"; or say --layout "cycle rows" where the board\'s own clock took each row.'
)
GIVE_RATE_OR_TIME = "Give the sample rate (--rate), or say which column is the time (--column)."


class BadRow(ValueError):
    """A row that does not fit: ``column`` counts cells from 1."""

    def __init__(self, found: str, expected: str, column: int | None = None) -> None:
        super().__init__(found)
        self.found, self.expected, self.column = found, expected, column


def shown(text: bytes) -> str:
    """A cell as it is quoted in a sentence."""
    return repr(text[:40].decode("latin-1").strip())


def bad_row(
    path: str, line: int, found: str, expected: str, column: int | None = None, do: str = CORRECT_LINE
) -> MalformedCapture:
    """A row that does not fit; ``line`` and ``column`` (the cell) count from 1."""
    return MalformedCapture(path, line=line, column=column, found=found, expected=expected, do=do)


def wrong_width(path: str, line: int, count: int, wanted: str) -> MalformedCapture:
    """A row of more or fewer cells than are ``wanted``, such as "3 as in the heading"."""
    return bad_row(path, line, f"{count} cell{'s' if count > 1 else ''}", wanted)
