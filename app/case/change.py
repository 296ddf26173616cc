"""Every change of a case is one small frozen value: ``applied`` makes the case after it, undo names its ``words``."""

from __future__ import annotations

from abc import ABC, abstractmethod

from app.case.record import OpenCase

BEGIN = "begin the case"
"""Words of the change that a case begins with; undo stops before it, or it would empty the case."""


class Change(ABC):
    """One change of the case."""

    __slots__ = ()

    @property
    @abstractmethod
    def words(self) -> str:
        """What undo will name."""

    @abstractmethod
    def applied(self, case: OpenCase) -> OpenCase:
        """The case after this change."""
