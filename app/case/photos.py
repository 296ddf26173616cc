"""Photos of a case: scaled when they come in, the hash of the original kept beside them."""

from __future__ import annotations

import hashlib
import io
import warnings
import zlib
from pathlib import Path
from typing import TYPE_CHECKING

from app.case.errors import CaseDamaged
from app.case.unpack import unpacked
from app.case.values import Picture
from tracecore.errors import RequestError
from tracecore.file_name import file_name

if TYPE_CHECKING:
    from app.case.store import CaseStore

LONGEST_SIDE, QUALITY = 1600, 85
FORMATS = ("JPEG", "PNG", "WEBP", "TIFF")
"""Photos alone: the library knows formats that call helpers or hold programs."""
ENDS = (".jpg", ".jpeg", ".png", ".webp", ".tif", ".tiff")
"""How the names of such files end."""
MOST_PIXELS = 60_000_000
"""A picture is unpacked to three or four bytes a pixel."""
LARGEST_PHOTO_BYTES = 64 << 20


def take_photo(path: str | Path, store: CaseStore, caption: str = "") -> Picture:
    """Puts a photo into the case, at most ``LONGEST_SIDE`` pixels long; its number is 0 until it is kept.

    Turned upright as the camera noted; nothing else of what a camera writes into a file is kept but the time.
    Raises RequestError where the file is no picture.
    """
    from PIL import Image, ImageOps, UnidentifiedImageError

    path = Path(path)
    try:
        raw = path.read_bytes()
        with warnings.catch_warnings():
            # what is too large is said in words of our own
            warnings.simplefilter("ignore", Image.DecompressionBombWarning)
            opened = Image.open(io.BytesIO(raw), formats=FORMATS)
        with opened:
            _refuse_large(path, *opened.size)
            opened.draft("RGB", (2 * LONGEST_SIDE, 2 * LONGEST_SIDE))
            taken = str(opened.getexif().get(306, ""))
            upright = ImageOps.exif_transpose(opened).convert("RGB")
    except UnidentifiedImageError as error:
        raise RequestError(
            f"{path}: found no picture; expected JPEG, PNG, WebP or TIFF. Choose another file."
        ) from error
    except Image.DecompressionBombError as error:
        raise RequestError(f"{path}: {error}. Make it smaller first.") from error
    except (OSError, SyntaxError, ValueError) as error:
        if not isinstance(error, OSError):
            raise RequestError(f"{path}: the picture is damaged ({error}). Choose another file.") from error
        raise RequestError(f"{path}: cannot be read ({error.strerror or error}). Check the file.") from error
    upright.thumbnail((LONGEST_SIDE, LONGEST_SIDE))
    out = io.BytesIO()
    upright.save(out, "JPEG", quality=QUALITY)
    scaled = out.getvalue()
    stored = hashlib.sha256(scaled).hexdigest()
    if not store.has_blob(stored):
        store.begin_blob(stored, len(scaled))
        store.add_blob_part(stored, 0, zlib.compress(scaled, 0))
        store.end_blob(stored)
    return Picture(0, file_name(path), hashlib.sha256(raw).hexdigest(), stored, *upright.size, caption, taken)


def _refuse_large(path: Path, width: int, height: int) -> None:
    if width * height > MOST_PIXELS:
        raise RequestError(
            f"{path}: found a picture of {width} x {height} pixels; at most "
            f"{MOST_PIXELS // 1_000_000} million are taken. Make it smaller first."
        )


def photo_bytes(store: CaseStore, stored: str) -> bytes:
    """The JPEG bytes of a stored photo. Raises CaseDamaged where they are not what was stored."""
    try:
        data = b"".join(unpacked(part, LARGEST_PHOTO_BYTES) for part in store.blob_parts(stored))
    except ValueError as error:
        raise CaseDamaged(f"A photo in {store.path} cannot be unpacked ({error}). Rescue the case.") from error
    if hashlib.sha256(data).hexdigest() != stored:
        raise CaseDamaged(f"A photo in {store.path} is lacking or not what was stored. Rescue the case.")
    return data
