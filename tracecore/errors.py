"""Everything that can be wrong with a file or a request.

    TwinslotError
    ├── CaptureFileError          a file cannot be taken as a capture
    │   ├── MalformedCapture      a place in it is not what its layout promises
    │   ├── UnknownCapture        no reader knows its layout
    │   ├── AmbiguousCapture      two readers claim it
    │   ├── MissingSampleRate     rows without a time column and without a rate
    │   └── MissingWordBase       a column of words whose base is not evident
    ├── SheetError                a probe sheet cannot be taken
    └── RequestError              what was asked cannot be done with these captures

A board's fault is never an error: it is a finding. Each error is one sentence that says where,
what was found, what was expected and what to do, and carries those facts as attributes.
"""

from __future__ import annotations

from pathlib import Path


class TwinslotError(Exception):
    """Base of all errors that are shown to a person as one sentence."""


class CaptureFileError(TwinslotError):
    """A file that cannot be taken as a capture.

    The sentence reads ``path, line L, column C: found F; expected E. Do``. Parts that are not known
    are left out.
    """

    def __init__(
        self,
        path: str | Path,
        *,
        found: str,
        expected: str = "",
        do: str = "",
        line: int | None = None,
        column: int | None = None,
    ) -> None:
        self.path = str(path)
        self.line = line
        self.column = column
        self.found = found
        self.expected = expected
        self.do = do
        super().__init__(self._sentence())

    def _sentence(self) -> str:
        where = self.path
        if self.line is not None:
            where += f", line {self.line}"
        if self.column is not None:
            where += f", column {self.column}"
        text = f"{where}: found {self.found}"
        if self.expected:
            text += f"; expected {self.expected}"
        text += "."
        if self.do:
            text += f" {self.do}"
        return text


class MalformedCapture(CaptureFileError):
    """A place in the file is not what its layout promises."""


class UnknownCapture(CaptureFileError):
    """No reader knows the layout of this file."""


class AmbiguousCapture(CaptureFileError):
    """Two or more readers claim this file; ``candidates`` names them."""

    def __init__(self, path: str | Path, candidates: tuple[str, ...]) -> None:
        self.candidates = candidates
        super().__init__(
            path,
            found="a layout that can be taken as " + " or as ".join(candidates),
            expected="one that can be taken in one way only",
            do="Name the layout when you open it (--layout).",
        )


class MissingSampleRate(CaptureFileError):
    """Rows without a time column whose sample rate is stated nowhere."""


class MissingWordBase(CaptureFileError):
    """A column of words that can be hex, octal or binary."""


class SheetError(CaptureFileError):
    """A probe sheet that cannot be taken; same facts as a capture file's error."""


class RequestError(TwinslotError):
    """What was asked cannot be done with these captures; the message is the whole sentence."""
