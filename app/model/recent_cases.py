"""The cases opened lately, as they are listed: also those that nobody has named yet."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from app.case.scratch import shown_name

if TYPE_CHECKING:
    from app.model.settings import Settings


def recent_cases(settings: Settings, here: Path | None) -> tuple[tuple[str, str], ...]:
    """The cases opened lately that are still there, the newest first, as path and name; without the open one."""
    found = []
    for text in settings.recent_cases:
        path = Path(text)
        try:
            if path != here and path.is_file():
                found.append((text, shown_name(path, settings.recent_title(text))))
        except OSError:
            # gone meanwhile
            continue
    return tuple(found)
