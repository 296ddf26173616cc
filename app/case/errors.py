"""Everything that can be wrong with a case file.

TwinslotError
└── CaseError            one sentence: which file, what was found, what to do
    ├── CaseBusy         it is open elsewhere
    ├── CaseReadOnly     it can be read and not written
    ├── CaseTooNew       a newer version of the program wrote it
    ├── CaseDamaged      its bytes are not what was written
    ├── DiskFull         the disk takes no more; the change in flight was not kept
    └── CaptureAbsent    a capture that stays outside the case is not where it was
        └── NotAgreed    nobody has said yes to reading that file yet
"""

from __future__ import annotations

from pathlib import Path

from tracecore.errors import TwinslotError


class CaseError(TwinslotError):
    """A case file cannot do what was asked; the message is the whole sentence."""


class CaseBusy(CaseError):
    """The file is open in another window or command."""


class CaseReadOnly(CaseError):
    """The file, or its folder, cannot be written."""


class CaseTooNew(CaseError):
    """A newer version of the program wrote the file."""


class CaseDamaged(CaseError):
    """The file's bytes are not what was written."""


class DiskFull(CaseError):
    """The disk takes no more."""


class CaptureAbsent(CaseError):
    """A linked capture is not where it was, or is not the same file any more."""


class NotAgreed(CaptureAbsent):
    """The case names the file ``path`` outside it, and nobody on this machine has agreed to have it read."""

    def __init__(self, sentence: str, path: Path) -> None:
        super().__init__(sentence)
        self.path = path
