"""The text of an SVG file: its encoding, where it begins, and what entities weigh."""

from __future__ import annotations

from dataclasses import replace

import pytest

from fillwork.errors import ReadError
from fillwork.readers.limits import NORMAL
from fillwork.readers.source import SourceFile
from fillwork.readers.svg.clips import LIGHT, _shows
from fillwork.readers.svg.gate.document import (
    XmlText,
    _weigh_entities,
    prepare_xml,
)
from tests.unit.readers.strokes.tables import about, fill


def weigh(entities: dict[str, str], most: int, text: str = "<svg/>") -> None:
    _weigh_entities(
        entities, XmlText(text.encode(), "a.svg", 1), replace(NORMAL, entity_bytes=most)
    )


@pytest.mark.parametrize(
    ("entities", "size"),
    [
        ({"a": "12345"}, 5),
        # its own text and that of each that it names, as often as it does
        ({"a": "12345", "b": "&a;&a;"}, 6 + 10),
        ({"b": "&a;&a;", "a": "12345"}, 6 + 10),
        ({"a": "12345", "b": "&a;", "c": "&a;&b;"}, 6 + 5 + (3 + 5)),
        ({"c": "&b;&a;", "b": "&a;", "a": "12345"}, 6 + 5 + (3 + 5)),
        # those that XML has, and those that there are not, weigh their own letters
        ({"a": "&amp;&none;"}, 11),
    ],
)
def test_an_entity_weighs_all_that_it_names(
    entities: dict[str, str], size: int
) -> None:
    weigh(entities, size)
    with pytest.raises(ReadError, match=f"expands to {size} bytes"):
        weigh(entities, size - 1)


@pytest.mark.parametrize(
    "entities",
    [{"a": "x&a;"}, {"a": "&b;", "b": "&a;"}, {"a": "&b;", "b": "&c;", "c": "&b;"}],
)
def test_an_entity_that_contains_itself_is_refused(entities: dict[str, str]) -> None:
    with pytest.raises(ReadError, match="contains itself"):
        weigh(entities, 10_000)


def test_entities_weigh_as_often_as_they_are_used() -> None:
    text = "<svg>&a;&a;&a;&#65;&amp;</svg>"
    weigh({"a": "12345"}, 15, text)
    with pytest.raises(ReadError, match="expand to more than 14 bytes"):
        weigh({"a": "12345"}, 14, text)
    weigh({}, 0, text)


def prepared(data: bytes) -> XmlText:
    return prepare_xml(SourceFile("a.svg", data, ""))


def test_text_begins_with_its_first_sign() -> None:
    got = prepared(b"\xef\xbb\xbf\n\r\n \t<svg/>\n")
    assert got.data == b"<svg/>\n"
    assert got.first_line == 3
    assert prepared(b"<svg/>").first_line == 1
    for wrong in (b"", b"nothing", b"x<svg/>"):
        with pytest.raises(ReadError, match="an SVG drawing begins with <"):
            prepared(wrong)


@pytest.mark.parametrize(
    ("data", "text"),
    [
        (b"<?xml version='1.0' encoding='ISO-8859-1'?><a b='\xe9'/>", "é"),
        (b"<?xml version='1.0' encoding='utf-8'?><a b='\xc3\xa9'/>", "é"),
        ("<a b='é'/>".encode("utf-16"), "é"),
        # a name that nobody knows, and one of two bytes a letter on one
        (b"<?xml version='1.0' encoding='nonesuch'?><a b='\xc3\xa9'/>", "é"),
        (b"<?xml version='1.0' encoding='UTF-16'?><a b='\xc3\xa9'/>", "é"),
    ],
)
def test_text_is_handed_on_in_one_encoding(data: bytes, text: str) -> None:
    assert text in prepared(data).data.decode()


def test_text_that_is_not_what_it_says_is_refused() -> None:
    with pytest.raises(ReadError, match="not in the encoding shift_jis"):
        prepared(b"<?xml version='1.0' encoding='shift_jis'?><a b='\x81'/>\xff\xff")


@pytest.mark.parametrize(
    ("painted", "shows"),
    [
        (fill(fill="#ffffff"), True),
        (fill(fill="#000000"), False),
        # by the weights of CSS Masking 1: 0.2125, 0.7154 and 0.0721
        (fill(fill="#ff0000"), False),
        (fill(fill="#00ff00"), True),
        (fill(fill="#ff00ff"), False),
        # 0.2125 + 0.7154 k / 255 is half from k = 103 on
        (fill(fill="#ff6600"), False),
        (fill(fill="#ff6700"), True),
        (fill(fill=None), None),
        (fill(fill="url(#a)"), None),
        (fill(clip=2), None),
        (fill(covers=False), None),
        (fill(stroked=True), None),
        (about(), None),
    ],
)
def test_light_shapes_of_a_mask_show(painted: object, shows: bool | None) -> None:
    assert _shows(painted, False) is shows
    # by alpha any fill shows that covers
    whole = painted.covers and not painted.stroked and painted.clip < 0
    assert _shows(painted, True) is (True if whole else None)
    # one step of each channel below the limit, and at it
    level = next(k for k in range(256) if k / 255 >= LIGHT)
    for grey, light in ((level, True), (level - 1, False)):
        assert _shows(fill(fill=f"#{grey:02x}{grey:02x}{grey:02x}"), False) is light
