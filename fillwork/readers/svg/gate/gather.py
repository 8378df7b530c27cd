"""A first look over a drawing: style sheets, and elements that others refer to.

Only where `use`, clips, masks, styles, patterns or gradients occur is the file read
twice; the second walk then knows everything that stands further down.
"""

from __future__ import annotations

import re
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, NamedTuple

from fillwork.readers.svg.gate.document import XmlText, parse_xml
from fillwork.readers.svg.style.css import Element, Sheet, media_counts

if TYPE_CHECKING:
    from xml.parsers.expat import XMLParserType

    from fillwork.readers.limits import Limits


_WANTED = re.compile(
    rb"(?:href\s*=\s*[\"']\s*|url\(\s*(?:[\"']|&(?:quot|apos|#3[49]);)?\s*)"
    rb"#([^\"')\s&]+)"
)
_NEEDS = re.compile(
    rb"<(?:[\w.-]+:)?"
    rb"(?:use|style|clipPath|mask|pattern|(?:linear|radial)Gradient)\b"
)
_NEVER = frozenset({"marker", "filter", "style", "script", "metadata"})


@dataclass(slots=True)
class Node:
    """Keep an element that others refer to, with what is inside it."""

    tag: str  # tag and role: name with and without prefix
    role: str
    attributes: dict[str, str]
    line: int  # line in the file
    element: Element | None  # what selectors may ask of it
    children: list[Node] = field(default_factory=list)  # elements inside, in order
    around: Around | None = None  # the elements that a pattern or mask stands in


class Around(NamedTuple):
    """Name an element that others stand in, for what they inherit."""

    outer: Around | None  # the element that it stands in itself
    role: str  # name without prefix
    attributes: dict[str, str]
    element: Element | None  # what selectors may ask of it


@dataclass(slots=True)
class Prepared:
    """Hold what the first look found."""

    sheet: Sheet = field(default_factory=Sheet)  # all style sheets
    # elements that others refer to, by id
    nodes: dict[str, Node] = field(default_factory=dict)
    prefixes: tuple[str, ...] = ()  # prefixes that stand for SVG
    # parts of the document that stand outside the file
    outside: list[str] = field(default_factory=list)


def prepare(text: XmlText, limits: Limits) -> Prepared:
    """Return what the walk must know beforehand.

    Style sheets and elements referred to. Raises `ReadError` if the text is not
    well-formed or over a limit.
    """
    prepared = Prepared(prefixes=text.prefixes)
    prepared.sheet.imports += text.data.count(b"<?xml-stylesheet")
    entities = b"<!ENTITY" in text.data
    if not entities and not _NEEDS.search(text.data):
        return prepared
    wanted = {name.decode("utf-8", "replace") for name in _WANTED.findall(text.data)}
    look = _Look(
        prepared, wanted, limits, text.name,
        b"<style" in text.data or b":style" in text.data,
        inheriting=b"pattern" in text.data or b"mask" in text.data, everything=entities,
    )  # fmt: skip
    prepared.outside = parse_xml(text, limits, look.start, look.end, setup=look.setup)
    if len(prepared.sheet.rules) > limits.style_rules:
        got = f"{len(prepared.sheet.rules):,} style rules"
        raise limits.refuse(limit="style_rules", got=got, where=text.name)
    return prepared


@dataclass(slots=True)
class _Look:
    prepared: Prepared
    wanted: set[str]  # ids
    limits: Limits
    where: str  # file name for messages
    styled: bool  # whether selectors may ask of elements
    inheriting: bool  # whether it counts what patterns and masks stand in
    everything: bool  # whether any id may be wanted
    open: list[Node | None] = field(default_factory=list)  # each open element, if kept
    # each open element and the last inside it, what holds the root first
    elements: list[tuple[Element | None, Element | None]] = field(
        default_factory=lambda: [(None, None)]
    )
    # each open element, if they may be asked for
    around: list[Around] = field(default_factory=list)
    style: list[str] | None = None
    count: int = 0
    parser: XMLParserType = field(init=False)

    def setup(self, parser: XMLParserType) -> None:
        self.parser = parser

    def start(self, tag: str, attributes: dict[str, str]) -> None:
        self.count += 1
        if self.count > self.limits.elements:
            got = f"more than {self.limits.elements:,} elements"
            raise self.limits.refuse(limit="elements", got=got, where=self.where)
        if len(self.open) > 20 * self.limits.depth:
            got = f"elements stand {len(self.open)} deep inside each other"
            raise self.limits.refuse(limit="depth", got=got, where=self.where)
        role = tag.rpartition(":")[2]
        if role == "style" and media_counts(attributes.get("media", "")):
            self.style = []
            self.parser.CharacterDataHandler = self.style.append
        element = None
        if self.styled:
            parent, previous = self.elements[-1]
            element = Element(role, attributes, parent, previous)
            self.elements[-1:] = (parent, element), (element, None)
        outer = self.around[-1] if self.around else None
        if self.inheriting:
            self.around.append(Around(outer, role, attributes, element))
        name = attributes.get("id")
        parent_node = self.open[-1] if self.open else None
        wanted = name is not None and (self.everything or name in self.wanted)
        if role in _NEVER or (parent_node is None and not wanted):
            self.open.append(None)
            return
        node = Node(tag, role, attributes, self.parser.CurrentLineNumber, element)
        if role in {"pattern", "mask"}:
            node.around = outer
        if parent_node is not None:
            parent_node.children.append(node)
        if name is not None:
            self.prepared.nodes.setdefault(name, node)
        self.open.append(node)

    def end(self, tag: str) -> None:
        self.open.pop()
        if self.inheriting:
            self.around.pop()
        if self.styled:
            self.elements.pop()
        if self.style is not None and tag.rpartition(":")[2] == "style":
            self.prepared.sheet.add("".join(self.style))
            self.style = None
            self.parser.CharacterDataHandler = None
