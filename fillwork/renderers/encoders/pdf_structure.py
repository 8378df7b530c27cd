"""Build the structure tree that gives a PDF its reading order.

ISO 32000-2:2020, 14.7 and 14.8: a document holds a section a page, each with
headings, paragraphs, figures and tables in the order they were written.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from pikepdf import Array, Dictionary, Name, String

if TYPE_CHECKING:
    from typing import Any

    import pikepdf


class StructureTree:
    """Gather marked content page by page. `pdf`: the document."""

    def __init__(self, pdf: pikepdf.Pdf) -> None:
        self._pdf = pdf
        self._root = pdf.make_indirect(Dictionary(Type=Name.StructTreeRoot))
        self._root.K = Array()
        self._document = self._child("Document", self._root)
        self._parents: list[Any] = []

    def _child(self, kind: str, parent: Any, *marks: int) -> Any:
        element = Dictionary(Type=Name.StructElem, S=Name("/" + kind), P=parent)
        element.K = Array(marks)
        element = self._pdf.make_indirect(element)
        parent.K.append(element)
        return element

    def add_page(
        self, page: Any, title: str, marks: list[tuple[str, str, int]]
    ) -> None:
        """Add the marked content of one page.

        `page` (pikepdf.Dictionary): the page; it gets its ``StructParents``. `title`:
        title of the section. `marks`: one for each MCID, in order; rows of tables are
        runs of ``TH`` and ``TD``.
        """
        page.StructParents = len(self._parents)
        section = self._child("Sect", self._document)
        if title:
            section.T = String(title)
        of_mark: list[Any] = []
        table: Any = None
        row: tuple[int, Any] | None = None  # its number, and itself
        for mark, (role, alt, number) in enumerate(marks):
            if role not in ("TH", "TD"):
                table = row = None
            elif table is None:
                table = self._child("Table", section)
            if table is not None and (row is None or row[0] != number):
                row = number, self._child("TR", table)
            element = self._child(role, section if row is None else row[1], mark)
            element.Pg = page
            if alt:
                element.Alt = String(alt)
            if role == "TH":
                element.A = Dictionary(O=Name.Table, Scope=Name.Column)
            of_mark.append(element)
        self._parents.append(self._pdf.make_indirect(Array(of_mark)))

    def finish(self) -> None:
        """Write the tree into the document's catalogue."""
        numbers = Array()
        for key, parents in enumerate(self._parents):
            numbers.append(key)
            numbers.append(parents)
        self._root.ParentTree = self._pdf.make_indirect(Dictionary(Nums=numbers))
        self._root.ParentTreeNextKey = len(self._parents)
        self._pdf.Root.StructTreeRoot = self._root
