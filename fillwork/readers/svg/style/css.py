"""Style sheets: as much of CSS as drawing programs write.

Selectors of types, classes, ids, attributes and a few pseudo-classes, joined by
descendant, child and sibling combinators; specificity and order by CSS Cascading
and Inheritance 4, section 6; selectors by Selectors Level 4. Media queries that
name `print` or a dark screen are passed over, imports are never opened.
"""

from __future__ import annotations

import re
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Callable

Declaration = tuple[str, str, bool]
"""Property, value, and whether it is marked !important."""

_TOKEN = re.compile(r"\"(?:[^\"\\]|\\.)*\"|'(?:[^'\\]|\\.)*'|[{};]|[^{};\"']+|.", re.S)
_COMMENT = re.compile(r"/\*.*?(?:\*/|\Z)|<!--|-->", re.S)
_IMPORTANT = re.compile(r"\s*!\s*important\s*\Z", re.I)
_NAME = r"(?:[\w-]|[^\x00-\x7f]|\\.)+"
_SIMPLE = re.compile(
    rf"(?P<type>\*|{_NAME})|\#(?P<id>{_NAME})|\.(?P<cls>{_NAME})"
    rf"|\[\s*(?P<key>(?:[\w*-]*\|)?[\w:-]+)\s*(?:(?P<op>[~|^$*]?=)\s*(?P<quote>[\"']?)(?P<val>.*?)"
    rf"(?P=quote)\s*(?:[iIsS]\s*)?)?\]|:(?P<pseudo>:?[\w-]+)(?P<call>\()?"
)
_ESCAPE = re.compile(r"\\(.)")


class Element:
    """Hold what selectors may ask of an element.

    `tag`: local name. `parent` and `previous`: the element around it and the one before
    it there.
    """

    __slots__ = ("attributes", "classes", "parent", "previous", "tag")

    def __init__(
        self,
        tag: str,
        attributes: dict[str, str],
        parent: Element | None,
        previous: Element | None,
    ) -> None:
        self.tag = tag
        self.attributes = attributes
        self.parent = parent
        self.previous = previous
        self.classes = frozenset(attributes.get("class", "").split())


@dataclass(frozen=True, slots=True)
class Compound:
    """Hold the simple selectors of one element."""

    tag: str = ""  # tag and id_: names asked for; empty for any
    id_: str = ""
    classes: frozenset[str] = frozenset()  # classes that it must have
    attributes: tuple[tuple[str, str, str], ...] = ()  # attributes that it must have
    pseudo: tuple[str, ...] = ()  # ``root`` or ``first-child``
    without: tuple[Compound, ...] = ()  # what must not fit: the arguments of ``:not()``

    @property
    def specificity(self) -> tuple[int, int, int]:
        """Return ids, classes and the like, and types; of ``:not()`` its strongest.

        Selectors Level 4, section 17.
        """
        middle = len(self.classes) + len(self.attributes) + len(self.pseudo)
        own = bool(self.id_), middle, bool(self.tag)
        inner = max((c.specificity for c in self.without), default=(0, 0, 0))
        return own[0] + inner[0], own[1] + inner[1], own[2] + inner[2]

    def matches(self, element: Element) -> bool:
        """Return whether an element fits; True if it has all that is asked."""
        if self.tag and self.tag != element.tag:
            return False
        if self.id_ and self.id_ != element.attributes.get("id"):
            return False
        if not self.classes <= element.classes:
            return False
        for key, operator, value in self.attributes:
            have = element.attributes.get(key)
            if have is None or not _FITS[operator](have, value):
                return False
        for name in self.pseudo:
            if name == "root" and element.parent is not None:
                return False
            if name == "first-child" and element.previous is not None:
                return False
        return not any(compound.matches(element) for compound in self.without)


# what an attribute has, and what is asked of it: Selectors Level 4, sections 6.1, 6.2
_FITS: dict[str, Callable[[str, str], bool]] = {
    "": lambda have, value: True,
    "=": lambda have, value: have == value,
    "~=": lambda have, value: value in have.split(),
    "|=": lambda have, value: have == value or have.startswith(value + "-"),
    "^=": lambda have, value: bool(value) and have.startswith(value),
    "$=": lambda have, value: bool(value) and have.endswith(value),
    "*=": lambda have, value: bool(value) and value in have,
}


@dataclass(frozen=True, slots=True, eq=False)
class Rule:
    """Hold one selector with its declarations."""

    order: int  # place in all style sheets
    # ids, classes (attributes and pseudo-classes too), types
    specificity: tuple[int, int, int]
    compounds: tuple[Compound, ...]  # from the element itself outwards
    # one fewer: what joins each to the next: ``' '``, ``>``, ``+`` or ``~``
    combinators: tuple[str, ...]
    declarations: tuple[Declaration, ...]  # what it sets

    def matches(self, element: Element) -> tuple[bool, int]:
        """Return whether the selector fits, and the comparisons it took."""
        if not self.compounds[0].matches(element):
            return False, 1
        steps = 1
        # ways that are still open: element and how many compounds it has met
        last = len(self.compounds)
        stack = [(element, 1)]
        seen: set[tuple[int, int]] = set()
        while stack:
            at, k = stack.pop()
            if k == last:
                return True, steps
            joint, compound = self.combinators[k - 1], self.compounds[k]
            other = at.parent if joint in " >" else at.previous
            while other is not None:
                steps += 1
                if compound.matches(other) and (id(other), k) not in seen:
                    seen.add((id(other), k))
                    stack.append((other, k + 1))
                if joint in ">+":
                    break
                other = other.parent if joint == " " else other.previous
        return False, steps


@dataclass(slots=True)
class Sheet:
    """Gather the rules of all style sheets of a drawing."""

    rules: list[Rule] = field(default_factory=list)  # in order
    skipped: int = 0  # selectors that were not understood
    imports: int = 0  # sheets outside the file, never opened
    by_id: dict[str, list[Rule]] = field(default_factory=dict)
    by_class: dict[str, list[Rule]] = field(default_factory=dict)
    by_tag: dict[str, list[Rule]] = field(default_factory=dict)
    anywhere: list[Rule] = field(default_factory=list)
    plain: bool = True
    siblings: bool = False

    def add(self, text: str) -> None:
        """Read one style sheet. `text`: text of a ``style`` element."""
        for selectors, body in self._blocks(_COMMENT.sub(" ", text)):
            declarations = tuple(parse_declarations(body))
            for selector in _split_list(selectors):
                self._add_rule(selector, declarations)

    def _blocks(self, text: str) -> list[tuple[str, str]]:
        # (selectors, body) of each rule; blocks inside @media are opened
        found: list[tuple[str, str]] = []
        head: list[str] = []
        body: list[str] | None = None
        outer: list[bool] = []  # for each open @-block: whether it counts
        for match in _TOKEN.finditer(text):
            token = match[0]
            if body is not None:
                if token == "}":
                    if all(outer):
                        found.append(("".join(head), "".join(body)))
                    head, body = [], None
                else:
                    body.append(token)
            elif token == "{":
                title = "".join(head).strip()
                if title.startswith("@"):
                    outer.append(_block_counts(title))
                    head = []
                else:
                    body = []
            elif token == "}":
                if outer:
                    outer.pop()
                head = []
            elif token == ";":
                if "".join(head).strip().lower().startswith("@import"):
                    self.imports += 1
                head = []
            else:
                head.append(token)
        if body is not None and all(outer):
            found.append(("".join(head), "".join(body)))
        return found

    def _add_rule(self, text: str, declarations: tuple[Declaration, ...]) -> None:
        parsed = _parse_selector(text)
        if parsed is None:
            self.skipped += 1
            return
        compounds, combinators = parsed
        ids, middle, types = (
            sum(k) for k in zip(*(c.specificity for c in compounds), strict=True)
        )
        rule = Rule(
            len(self.rules), (ids, middle, types), compounds, combinators, declarations
        )
        self.rules.append(rule)
        own = compounds[0]
        if len(compounds) > 1 or own.attributes or own.pseudo or own.without:
            self.plain = False
        self.siblings |= any(joint in "+~" for joint in combinators)
        self.siblings |= any("first-child" in c.pseudo for c in compounds)
        if own.id_:
            self.by_id.setdefault(own.id_, []).append(rule)
        elif own.classes:
            self.by_class.setdefault(min(own.classes), []).append(rule)
        elif own.tag:
            self.by_tag.setdefault(own.tag, []).append(rule)
        else:
            self.anywhere.append(rule)

    def match(self, element: Element) -> tuple[tuple[Rule, ...], int]:
        """Return the rules that fit an element, weakest first."""
        lists = [self.anywhere, self.by_tag.get(element.tag, [])]
        lists.extend(self.by_class.get(name, []) for name in sorted(element.classes))
        name = element.attributes.get("id")
        if name:
            lists.append(self.by_id.get(name, []))
        tried = [(rule, *rule.matches(element)) for rules in lists for rule in rules]
        fits = [rule for rule, fit, _ in tried if fit]
        fits.sort(key=lambda rule: (rule.specificity, rule.order))
        return tuple(fits), sum(steps for _, _, steps in tried)


def media_counts(query: str) -> bool:
    """Return whether rules for some media hold on a light screen."""
    query = query.lower()
    if "prefers-color-scheme" in query and "dark" in query:
        return "not" in query
    return "print" not in query or "screen" in query or "not print" in query


def _block_counts(title: str) -> bool:
    title = title.lower()
    if title.startswith("@media"):
        return media_counts(title[6:])
    return title.startswith(("@supports", "@layer", "@namespace"))


def _split_list(text: str) -> list[str]:
    # at commas outside brackets
    parts = re.split(r",(?![^()\[\]]*[)\]])", text)
    return [part.strip() for part in parts if part.strip()]


def _parse_selector(text: str) -> tuple[tuple[Compound, ...], tuple[str, ...]] | None:
    compounds: list[Compound] = []
    combinators: list[str] = []
    position = 0
    pending = ""
    while position < len(text):
        gap = re.compile(r"\s*([>+~]?)\s*").match(text, position)
        if gap and gap.end() > position:
            position = gap.end()
            if not compounds or pending:
                return None
            pending = gap[1] or " "
            continue
        compound, end = _parse_compound(text, position)
        if compound is None:
            return None
        if compounds:
            combinators.append(pending)
        pending = ""
        compounds.append(compound)
        position = end
    if not compounds or pending.strip():
        return None
    return tuple(reversed(compounds)), tuple(reversed(combinators))


def _parse_compound(text: str, position: int) -> tuple[Compound | None, int]:
    tag = id_ = ""
    classes: list[str] = []
    attributes: list[tuple[str, str, str]] = []
    pseudo: list[str] = []
    without: list[Compound] = []
    begin = position
    while position < len(text):
        found = _SIMPLE.match(text, position)
        if not found:
            break
        if found["type"]:
            if position > begin:
                return None, position
            # a namespace before the name, as in svg|path, is not needed here
            tag = "" if found["type"] == "*" else _plain(found["type"])
        elif found["id"]:
            id_ = _plain(found["id"])
        elif found["cls"]:
            classes.append(_plain(found["cls"]))
        elif found["key"]:
            attributes.append((found["key"], found["op"] or "", found["val"] or ""))
        elif found["pseudo"] in {"root", "first-child"} and not found["call"]:
            pseudo.append(found["pseudo"])
        elif found["pseudo"].lower() == "not" and found["call"]:
            close = text.find(")", found.end())
            for part in text[found.end() : close].split(","):
                inner, end = _parse_compound(part.strip(), 0)
                if inner is None or end < len(part.strip()) or close < 0:
                    return None, position
                without.append(inner)
            position = close + 1
            continue
        else:
            return None, position
        position = found.end()
        if position < len(text) and text[position] == "|" and found["type"]:
            position += 1
            begin = position
    if position == begin:
        return None, position
    asked = tuple(attributes), tuple(pseudo), tuple(without)
    return Compound(tag, id_, frozenset(classes), *asked), position


def _plain(name: str) -> str:
    return _ESCAPE.sub(r"\1", name)


def told_of(attributes: dict[str, str]) -> dict[str, str]:
    """Return attributes, and over them what the one named style declares."""
    style = parse_declarations(attributes.get("style", ""))
    return attributes | {name: value for name, value, _ in style}


def parse_declarations(text: str) -> list[Declaration]:
    """Return the declarations of a rule or of a style attribute.

    Property in small letters, value, whether important. `text`: such as ``fill: none;
    stroke: red !important``.
    """
    if "/*" in text:
        text = _COMMENT.sub(" ", text)
    parts = re.split(r";(?![^()]*\))", text) if "(" in text else text.split(";")
    found: list[Declaration] = []
    for part in parts:
        name, colon, value = part.partition(":")
        name = name.strip().lower()
        if not colon or not name:
            continue
        important = "!" in value and _IMPORTANT.search(value) is not None
        if important:
            value = _IMPORTANT.sub("", value)
        found.append((name, value.strip(), important))
    return found
