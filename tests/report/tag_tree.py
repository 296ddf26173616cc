"""The tags of a PDF as an independent reader finds them: ISO 32000-1, 14.7 and 14.8."""

from __future__ import annotations

import io

import pypdf


def elements(data: bytes) -> list[tuple[str, str, list[tuple[int, int]]]]:
    """Role, alternate text and, for what holds marked content, its pages and numbers, in reading order."""
    found: list[tuple[str, str, list[tuple[int, int]]]] = []
    reader = pypdf.PdfReader(io.BytesIO(data))
    pages = {page.indirect_reference.idnum: i for i, page in enumerate(reader.pages)}

    def walk(element: pypdf.generic.DictionaryObject) -> None:
        kids = [kid.get_object() for kid in element["/K"].get_object()]
        marks = [(pages[kid.raw_get("/Pg").idnum], int(kid["/MCID"])) for kid in kids if "/MCID" in kid]
        found.append((str(element["/S"]), str(element.get("/Alt", "")), marks))
        for kid in kids:
            if "/S" in kid:
                walk(kid)

    walk(reader.trailer["/Root"]["/StructTreeRoot"]["/K"].get_object())
    return found
