"""Where files go that a person did not name a place for: where other programs put documents, never a hidden folder."""

from __future__ import annotations

import os
from pathlib import Path


def documents_folder() -> Path:
    """The person's documents folder, their home folder where there is none.

    Where TWINSLOT_SETTINGS is set, a folder in that one, so that a test or a try-out leaves nothing elsewhere.
    """
    named = os.environ.get("TWINSLOT_SETTINGS")
    if named:
        return Path(named) / "documents"
    from platformdirs import user_documents_path

    folder = user_documents_path()
    return folder if folder.is_dir() else Path.home()
