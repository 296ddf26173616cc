"""What was said of a file serves the next file of the same shape as a proposal; it is never taken without a look."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from app.case.codec import decode, encode
from app.case.read_settings import read_settings_from
from tracecore.readers.settings import ReadSettings

if TYPE_CHECKING:
    from app.model.settings import Settings


@dataclass(frozen=True, slots=True)
class KeptWish:
    """A wish as texts."""

    sample_rate: str
    layout: str
    said: tuple[tuple[str, str], ...]


def proposed(settings: Settings, shape: str) -> ReadSettings | None:
    """What was said of the last file of this shape; None where nothing was."""
    text = settings.import_choice(shape) if shape else ""
    if not text:
        return None
    try:
        kept = decode(KeptWish, text)
        return read_settings_from(kept.sample_rate, kept.layout, kept.said)
    except ValueError:
        # written by another version, or by hand
        return None


def remember(settings: Settings, shape: str, wish: ReadSettings) -> None:
    """Keeps what was said of a file for others of its shape."""
    if shape:
        rate = "" if wish.sample_rate_hz is None else str(wish.sample_rate_hz)
        settings.set_import_choice(shape, encode(KeptWish(rate, wish.layout or "", wish.said)))
