"""Unpacking what a case holds, within a bound: some kilobytes can be made to unpack without end."""

from __future__ import annotations

import zlib


def unpacked(part: bytes, most_bytes: int) -> bytes:
    """The bytes of one compressed part. Raises ValueError where it is none, or unpacks to more than ``most_bytes``."""
    opener = zlib.decompressobj()
    try:
        data = opener.decompress(part, most_bytes)
    except zlib.error as error:
        raise ValueError(str(error)) from error
    if opener.unconsumed_tail:
        raise ValueError(f"it unpacks to more than {most_bytes} bytes")
    if not opener.eof:
        raise ValueError("its end is lacking")
    return data
