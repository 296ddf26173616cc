"""Every change of a case is one small frozen value: ``applied`` makes the case after it, undo names its ``words``."""

from __future__ import annotations

from abc import ABC, abstractmethod

from app.case.record import OpenCase


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
