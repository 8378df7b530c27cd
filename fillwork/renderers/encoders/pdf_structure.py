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
        self._document = self._element("Document", self._root, [])
        self._sections: list[Any] = []
        self._parents: list[Any] = []

    def _element(self, kind: str, parent: Any, kids: list[Any]) -> Any:
        return self._pdf.make_indirect(
            Dictionary(
                Type=Name.StructElem, S=Name("/" + kind), P=parent, K=Array(kids)
            )
        )

    def add_page(
        self, page: Any, title: str, marks: list[tuple[str, str, int]]
    ) -> None:
        """Add the marked content of one page.

        `page` (pikepdf.Dictionary): the page; it gets its ``StructParents``. `title`:
        title of the section. `marks`: one for each MCID, in order; rows of tables are
        runs of ``TH`` and ``TD``.
        """
        page.StructParents = len(self._parents)
        section = self._element("Sect", self._document, [])
        if title:
            section.T = String(title)
        kids: list[Any] = []
        of_mark: list[Any] = []
        table: Any = None
        row: Any = None
        row_number = 0
        for mark, (role, alt, number) in enumerate(marks):
            if role not in ("TH", "TD"):
                table = row = None
                parent = section
            else:
                if table is None:
                    table = self._element("Table", section, [])
                    kids.append(table)
                    row = None
                if row is None or number != row_number:
                    row = self._element("TR", table, [])
                    table.K.append(row)
                    row_number = number
                parent = row
            element = self._element(role, parent, [mark])
            element.Pg = page
            if alt:
                element.Alt = String(alt)
            if role == "TH":
                element.A = Dictionary(O=Name.Table, Scope=Name.Column)
            if parent is section:
                kids.append(element)
            else:
                parent.K.append(element)
            of_mark.append(element)
        section.K = Array(kids)
        self._sections.append(section)
        self._parents.append(self._pdf.make_indirect(Array(of_mark)))

    def finish(self) -> None:
        """Write the tree into the document's catalogue."""
        self._document.K = Array(self._sections)
        self._root.K = Array([self._document])
        numbers = Array()
        for key, parents in enumerate(self._parents):
            numbers.append(key)
            numbers.append(parents)
        self._root.ParentTree = self._pdf.make_indirect(Dictionary(Nums=numbers))
        self._root.ParentTreeNextKey = len(self._parents)
        self._pdf.Root.StructTreeRoot = self._root
