"""Every change of a case is one small frozen value: ``applied`` makes the case after it, undo names its ``words``."""

from __future__ import annotations

from app.case.record import OpenCase


class Change:
    """One change of the case."""

    __slots__ = ()

    @property
    def words(self) -> str:
        """What undo will name."""
        raise NotImplementedError

    def applied(self, case: OpenCase) -> OpenCase:
        """The case after this change."""
        raise NotImplementedError
