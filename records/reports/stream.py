"""A PDF that is put into its file page by page, so that memory does not grow with the pages.

ReportLab keeps every page until it saves. Here each page goes out as soon as it is drawn, as PDF's structure allows:
objects stand anywhere in the file, and the table at its end says where. What is the same on every page, with the number
of pages that nobody knows before the last, is one shared content stream (ISO 32000-1, 7.8.2) written at the end.
"""

from __future__ import annotations

from functools import lru_cache
from typing import TYPE_CHECKING, Any, Protocol

from reportlab.lib.rl_accel import escapePDF
from reportlab.pdfbase import pdfdoc, pdfmetrics
from reportlab.pdfgen.canvas import Canvas

from records.reports.fonts import BOLD, REGULAR, face
from records.reports.layout import Page, Stamp

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable

    from records.reports.layout import About, Shape, Text

_SHARED = "SharedFoot"
_DONE = "written"


class Bytes(Protocol):
    """Something that takes bytes, only ever forward."""

    def write(self, data: bytes, /) -> int:
        """Take them."""


class PageStream:
    """Writes pages one by one; the same pages give the same bytes."""

    def __init__(self, target: Bytes, paper: tuple[float, float], about: About) -> None:
        """Begin a file.

        Args:
            target: takes bytes; only ever written forward.
            paper: width and height in points.
            about: title, author and so on.
        """
        face(REGULAR), face(BOLD)
        self._target, self._offset, self._height = target, 0, paper[1]
        self._canvas = canvas = Canvas("-", pagesize=paper, pageCompression=1, invariant=1, lang=about.language)
        doc: Any = vars(canvas)["_doc"]
        self._doc = doc
        vars(doc)["_timeStamp"] = Stamp(about.issued_on)
        canvas.setTitle(about.title)
        canvas.setAuthor(about.author)
        canvas.setSubject(about.subject)
        canvas.setCreator("Swathbook")
        canvas.setViewerPreference("DisplayDocTitle", "true")
        self._foot: Any = pdfdoc.PDFStream(filters=[pdfdoc.PDFZCompress])
        doc.Reference(self._foot, _SHARED)
        doc.Reference(doc.Pages)
        self._late = len(doc.numberToId)  # objects up to here can be written only at the end
        self._next = self._late + 1  # number of the first object that is not yet written
        self._coded = lru_cache(maxsize=8192)(self._code)
        self.pages = 0
        self._write(b"%PDF-1.4\n%\x93\x8c\x8b\x9e\n")

    def put(self, page: Page) -> None:
        """Write a page."""
        canvas, doc = self._canvas, self._doc
        canvas.addLiteral(self._drawn(page.shapes, page.texts))
        canvas.showPage()
        made = doc.Pages.pages[-1]
        stream = pdfdoc.PDFStream(content=made.stream, filters=[pdfdoc.PDFZCompress])
        made.stream = None
        made.Contents = pdfdoc.PDFArray([doc.Reference(stream), pdfdoc.PDFObjectReference(_SHARED)])
        name = f"Page{self.pages + 1}"
        doc.Pages.pages[-1] = pdfdoc.PDFObjectReference(name)
        self._next = self._flush(self._next)
        self.pages += 1

    def close(self, foot: Callable[[int], Page]) -> None:
        """Write what every page shares, and the end of the file.

        Args:
            foot: draws it, given the number of pages.
        """
        doc = self._doc
        shared = foot(self.pages)
        self._foot.content = self._drawn(shared.shapes, shared.texts)
        for font in doc.delayedFonts:
            font.addObjects(doc)
        doc.info.invariant = doc.invariant
        doc.info.digest(doc.signature)
        doc.Reference(doc.Catalog)
        doc.Reference(doc.info)
        doc.Catalog.Outlines = None
        self._flush(1)
        table = pdfdoc.PDFCrossReferenceTable()
        table.addsection(0, [doc.numberToId[number] for number in sorted(doc.numberToId)])
        start = self._offset
        self._write(table.format(doc))
        size = len(doc.numberToId) + 1
        root, info = doc.Reference(doc.Catalog), doc.Reference(doc.info)
        self._write(pdfdoc.PDFTrailer(startxref=start, Size=size, Root=root, Info=info, ID=doc.ID()).format(doc))

    def _flush(self, number: int) -> int:
        """Write every object from a number on that is not yet written, and return the next number.

        More objects may be named while that is done.
        """
        doc = self._doc
        while number in doc.numberToId:
            name = doc.numberToId[number]
            if doc.idToObject[name] is not _DONE:
                text = pdfdoc.PDFIndirectObject(name, doc.idToObject[name]).format(doc)
                doc.idToOffset[name] = self._offset
                doc.idToObject[name] = _DONE
                self._write(text)
            number += 1
        return number

    def _write(self, data: bytes) -> None:
        self._target.write(data)
        self._offset += len(data)

    def _drawn(self, shapes: Iterable[Shape], texts: Iterable[Text]) -> str:
        """Return the operators that draw a page."""
        return "\n".join((*self._shapes(shapes), "BT", *self._texts(texts), "ET"))

    def _shapes(self, shapes: Iterable[Shape]) -> Iterable[str]:
        height = self._height
        for x, y, across, down, fill, line in shapes:
            place = f"{x:.2f} {height - y - down:.2f} {across:.2f} {down:.2f} re"
            if fill is not None and line is not None:
                yield f"{fill} g {line} w {place} B"
            elif fill is not None:
                yield f"{fill} g {place} f"
            elif line is not None:
                yield f"{line} w {place} S"

    def _texts(self, texts: Iterable[Text]) -> Iterable[str]:
        height, coded = self._height, self._coded
        now: tuple[str, float] | None = None
        gray: float | None = None
        for x, y, text, font, size, wanted in texts:
            if wanted != gray:
                yield f"{wanted} g"
                gray = wanted
            parts = coded(text, font)
            yield f"1 0 0 1 {x:.2f} {height - y:.2f} Tm"
            for name, code in parts:
                if (name, size) != now:
                    yield f"{name} {size} Tf"
                    now = (name, size)
                yield code

    def _code(self, text: str, font: str) -> tuple[tuple[str, str], ...]:
        """Return a string as the codes of its font's subsets, each with the name of the subset."""
        made: Any = pdfmetrics.getFont(font)
        return tuple(
            (made.getSubsetInternalName(subset, self._doc), f"({escapePDF(codes)}) Tj")
            for subset, codes in made.splitString(text, self._doc)
        )
