"""The safe front gate: bytes in, start and end of elements out.

The standard library's expat reads the text as a stream, so no tree of objects
is built, no external file is opened and nothing recurses. What a document type
declares is weighed before it is believed.
"""

from __future__ import annotations

import codecs
import re
from typing import TYPE_CHECKING
from xml.parsers import expat

from fillwork.errors import ReadError

if TYPE_CHECKING:
    from collections.abc import Callable

    from fillwork.readers.limits import Limits
    from fillwork.readers.source import SourceFile


_SVG_NAMESPACE = b"http://www.w3.org/2000/svg"

_DECLARED = re.compile(rb"<\?xml[^>]*?encoding\s*=\s*[\"']([A-Za-z0-9._:-]+)[\"']")
_PREFIX = re.compile(rb"xmlns:([\w.-]+)\s*=\s*[\"']([^\"']*)[\"']")
_REFERENCE = re.compile(r"&([^\s;&#]+);")
_PREDEFINED = {"lt": "<", "gt": ">", "amp": "&", "quot": '"', "apos": "'"}
_MARKS = (
    (codecs.BOM_UTF8, "utf-8"),
    (codecs.BOM_UTF32_LE, "utf-32-le"),
    (codecs.BOM_UTF32_BE, "utf-32-be"),
    (codecs.BOM_UTF16_LE, "utf-16-le"),
    (codecs.BOM_UTF16_BE, "utf-16-be"),
    (b"<\0\0\0", "utf-32-le"),
    (b"\0\0\0<", "utf-32-be"),
    (b"<\0", "utf-16-le"),
    (b"\0<", "utf-16-be"),
)
_WIDE = ("utf-16", "utf-32", "ucs-", "iso-10646-ucs")


class XmlText:
    """Hold a document as UTF-8 bytes with what a quick look shows.

    `data`: the text in UTF-8, from its first ``<`` on. `name`: file name for messages.
    `first_line`: line that the text begins on.
    """

    __slots__ = ("data", "first_line", "name", "prefixes")

    def __init__(self, data: bytes, name: str, first_line: int) -> None:
        self.data = data
        self.name = name
        self.first_line = first_line
        self.prefixes = _svg_prefixes(data)


def _svg_prefixes(data: bytes) -> tuple[str, ...]:
    declared: dict[str, bytes] = {}
    for prefix, address in _PREFIX.findall(data):
        declared.setdefault(prefix.decode("utf-8", "replace"), address)
    found = {name for name, address in declared.items() if address == _SVG_NAMESPACE}
    if "svg" not in declared:
        found.add("svg")
    return tuple(sorted(found))


def prepare_xml(file: SourceFile) -> XmlText:
    """Return the text of a file in UTF-8, from its first ``<`` on.

    Raises `ReadError` if the bytes are no text of the declared encoding, or no XML at
    all.
    """
    data = file.data
    encoding = next((named for mark, named in _MARKS if data.startswith(mark)), "")
    if not encoding:
        found = _DECLARED.search(data[:400])
        encoding = found[1].decode("ascii").lower() if found else "utf-8"
        if encoding.startswith(_WIDE):
            encoding = "utf-8"  # a byte a letter after all: it was saved anew since
    if encoding not in {"utf-8", "utf8", "us-ascii", "ascii"}:
        try:
            data = data.decode(encoding).encode("utf-8")
        except LookupError:
            pass  # an unknown name: most such files are UTF-8 after all
        except (UnicodeError, ValueError) as error:
            what = f"the text is not in the encoding {encoding} that it names"
            mend = "save the drawing as UTF-8"
            raise ReadError(what, file.name, mend) from error
    begin = data.find(b"<")
    if begin < 0 or data[:begin].strip(b"\xef\xbb\xbf \t\r\n\x0c\x00"):
        text = not re.search(rb"[\x00-\x08\x0e-\x1a]", data)
        sort = "text, not a drawing" if text else "a file of no known sort"
        what = f"this is {sort}: an SVG drawing begins with <"
        mend = "save the drawing as SVG, DXF or PDF, or a picture of it as PNG or JPEG"
        raise ReadError(what, file.name, mend)
    first_line = 1 + data.count(b"\n", 0, begin)
    return XmlText(data[begin:] if begin else data, file.name, first_line)


def parse_xml(
    text: XmlText,
    limits: Limits,
    start: Callable[[str, dict[str, str]], None],
    end: Callable[[str], None],
    *,
    setup: Callable[[expat.XMLParserType], None] | None = None,
) -> list[str]:
    """Read a document and report its elements in order.

    Names of external parts that were not opened. `start` and `end`: called at the start
    of each element with its name and attributes, and at its end with its name. `setup`:
    called with the parser before it starts, for line numbers and the like. Raises
    `ReadError` if the text is not well-formed or its entities are over the limit.
    """
    parser = expat.ParserCreate("utf-8")
    parser.buffer_text = True
    parser.SetParamEntityParsing(expat.XML_PARAM_ENTITY_PARSING_NEVER)
    entities: dict[str, str] = {}
    outside: list[str] = []

    def declare(
        name: str,
        is_parameter: int,
        value: str | None,
        base: str | None,
        system: str | None,
        public: str | None,
        notation: str | None,
    ) -> None:
        """Note a declared entity."""
        del base, public, notation
        if value is not None and not is_parameter:
            entities.setdefault(name, value)
        elif value is None:
            outside.append(system or name)

    def weigh() -> None:
        """Refuse entities that grow too large."""
        _weigh_entities(entities, text, limits)

    def external(
        context: str | None, base: str | None, system: str | None, public: str | None
    ) -> int:
        """Pass over what stands outside the file."""
        del context, base, system, public
        return 1  # passed over, never opened

    parser.EntityDeclHandler = declare
    parser.EndDoctypeDeclHandler = weigh
    parser.ExternalEntityRefHandler = external
    parser.StartElementHandler = start
    parser.EndElementHandler = end
    if setup is not None:
        setup(parser)
    try:
        parser.Parse(text.data, True)
    except expat.ExpatError as error:
        raise _broken(error, text) from error
    return outside


def _weigh_entities(entities: dict[str, str], text: XmlText, limits: Limits) -> None:
    # The size of every entity fully expanded, without expanding any.
    sizes: dict[str, int] = {}
    inner = {
        name: [part for part in _REFERENCE.findall(value) if part not in _PREDEFINED]
        for name, value in entities.items()
    }
    for root in entities:
        stack = [root]
        on_way: set[str] = set()
        while stack:
            name = stack[-1]
            if name in sizes or name not in entities:
                stack.pop()
                on_way.discard(name)
                continue
            todo = [part for part in inner[name] if part in entities]
            missing = [part for part in todo if part not in sizes]
            if any(part in on_way or part == name for part in missing):
                what = f"the entity {name} contains itself"
                raise ReadError(what, text.name, "remove its declaration")
            if missing and name not in on_way:
                on_way.add(name)
                stack.extend(dict.fromkeys(missing))
                continue
            sizes[name] = len(entities[name]) + sum(sizes.get(p, 0) for p in todo)
            stack.pop()
            on_way.discard(name)
            if sizes[name] > limits.entity_bytes:
                got = f"the entity {name} expands to {sizes[name]:,} bytes"
                raise limits.refuse(limit="entity_bytes", got=got, where=text.name)
    if not sizes:
        return
    used = 0
    for found in re.finditer(rb"&([^\s;&#]{1,200});", text.data):
        used += sizes.get(found[1].decode("utf-8", "replace"), 0)
        if used > limits.entity_bytes:
            got = f"its entities expand to more than {limits.entity_bytes:,} bytes"
            raise limits.refuse(limit="entity_bytes", got=got, where=text.name)


def _broken(error: expat.ExpatError, text: XmlText) -> ReadError:
    line = error.lineno + text.first_line - 1
    where = f"{text.name}, line {line}, column {error.offset + 1}"
    reason = expat.ErrorString(error.code) or "not well-formed"
    if "amplification" in reason:
        return ReadError(
            f"its entities grow without measure ({reason})", text.name,
            "remove the entity declarations",
        )  # fmt: skip
    head = text.data[:2000].lower()
    if b"<svg" not in text.data and b":svg" not in text.data:
        page = " but a web page" if b"<html" in head else ""
        what = f"this is not an SVG drawing{page}"
        return ReadError(what, text.name, "export the drawing as SVG")
    what = f"the XML is broken: {reason}"
    mend = "the file may be cut short: save or copy it again"
    return ReadError(what, where, mend)
