"""Tags of a PDF, for screen readers: what is drawn is marked as heading, paragraph, list, table or figure.

reportlab writes no tags by itself. Its canvas takes operators, and its catalogue a structure tree: ISO 32000-1, 14.6
(marked content), 14.7 (logical structure) and 14.8 (tagged PDF). Nothing is plumbed from the story to the tree: an
element enters its parent when it is first drawn, so the tree has the order of the pages.
"""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from typing import TYPE_CHECKING, Any, Literal

from reportlab.pdfbase.pdfdoc import PDFArray, PDFDictionary, PDFName, PDFObjectReference, PDFText
from reportlab.pdfgen.canvas import Canvas
from reportlab.platypus import Flowable, Paragraph

if TYPE_CHECKING:
    from reportlab.lib.styles import ParagraphStyle

Role = Literal[
    "Document", "H1", "H2", "H3", "P", "L", "LI", "LBody", "Table", "TR", "TH", "TD", "Figure", "Caption",
]  # fmt: skip


class Element:
    """One element of the tree; ``alt`` is what is read in place of a figure. ``scope`` belongs to a TH."""

    def __init__(
        self, role: Role, parent: Element | None = None, *, alt: str = "", scope: Literal["", "Row", "Column"] = ""
    ) -> None:
        self.role, self.parent, self.alt, self.scope = role, parent, alt, scope
        self.kids: list[Element | tuple[int, int]] = []

    def enter(self, root: Element) -> None:
        """Takes its place in its parent, and that one in its own, up to the root."""
        if self is root:
            return
        parent = self.parent or root
        if self not in parent.kids:
            parent.kids.append(self)
        parent.enter(root)


class TaggedCanvas(Canvas):  # type: ignore[misc]
    """A canvas that keeps what was marked on which page, and writes the tree when it is saved."""

    def __init__(self, *arguments: Any, **named: Any) -> None:
        super().__init__(*arguments, **named)
        self._root = Element("Document")
        self._marked: list[list[Element]] = [[]]

    @contextmanager
    def marks(self, element: Element | None) -> Iterator[None]:
        """What is drawn meanwhile belongs to an element; with None it is an artifact, which nobody reads out."""
        if element is None:
            self._code.append("/Artifact BMC")
        else:
            element.enter(self._root)
            here = self._marked[-1]
            element.kids.append((len(self._marked) - 1, len(here)))
            self._code.append(f"/{element.role} <</MCID {len(here)}>> BDC")
            here.append(element)
        yield
        self._code.append("EMC")

    def showPage(self) -> None:
        """Ends the page; what is marked from now on is on the next one."""
        super().showPage()
        self._marked.append([])

    def save(self) -> None:
        """Writes the tree, then the file."""
        if self._code:
            self.showPage()
        self._write_tree()
        super().save()

    def _write_tree(self) -> None:
        document = self._doc
        pages = list(document.Pages.pages)
        page_refs = [document.Reference(page) for page in pages]
        top = PDFDictionary({"Type": PDFName("StructTreeRoot")})
        written: dict[Element, PDFObjectReference] = {}
        top["K"] = self._write(self._root, document.Reference(top), page_refs, written)
        numbers: list[Any] = []
        for number, (page, elements) in enumerate(zip(pages, self._marked, strict=False)):
            numbers += [number, document.Reference(PDFArray([written[element] for element in elements]))]
            # a page's dictionary knows only the keys that reportlab uses
            page.__NoDefault__ = [*page.__NoDefault__, "StructParents", "Tabs"]
            page.StructParents, page.Tabs = number, PDFName("S")
        top["ParentTree"] = document.Reference(PDFDictionary({"Nums": PDFArray(numbers)}))
        top["ParentTreeNextKey"] = len(pages)
        document._catalog.StructTreeRoot = top
        document._catalog.MarkInfo = PDFDictionary({"Marked": "true"})

    def _write(
        self,
        element: Element,
        parent: PDFObjectReference,
        pages: list[PDFObjectReference],
        written: dict[Element, PDFObjectReference],
    ) -> PDFObjectReference:
        made = PDFDictionary({"Type": PDFName("StructElem"), "S": PDFName(element.role), "P": parent})
        written[element] = own = self._doc.Reference(made)
        if element.alt:
            made["Alt"] = PDFText(element.alt)
        if element.scope:
            made["A"] = PDFDictionary({"O": PDFName("Table"), "Scope": PDFName(element.scope)})
        kids: list[Any] = []
        for kid in element.kids:
            if isinstance(kid, Element):
                kids.append(self._write(kid, own, pages, written))
            else:
                page, number = kid
                kids.append(PDFDictionary({"Type": PDFName("MCR"), "Pg": pages[page], "MCID": number}))
        made["K"] = PDFArray(kids)
        return own


@contextmanager
def marked(canvas: Canvas, element: Element | None) -> Iterator[None]:
    """Marks what is drawn on a canvas that keeps tags; on any other it does nothing."""
    if isinstance(canvas, TaggedCanvas):
        with canvas.marks(element):
            yield
    else:
        yield


class TaggedParagraph(Paragraph):  # type: ignore[misc]
    """Words that belong to an element, on however many pages they go on. Drawn once more, as the head of a table is
    on each page, they are an artifact."""

    def __init__(
        self, text: str | None, style: ParagraphStyle, *, element: Element | None = None, **named: Any
    ) -> None:
        super().__init__(text, style, **named)
        self.element = element or Element("P")
        self._drawn = False

    def split(self, width: float, height: float) -> list[Flowable]:
        """Its parts, all of the same element."""
        parts: list[Flowable] = super().split(width, height)
        for part in parts:
            part.element = self.element
        return parts

    def draw(self) -> None:
        """Draws it as what it is."""
        with marked(self.canv, None if self._drawn else self.element):
            super().draw()
        self._drawn = True
