"""Conditions on strokes, on both sides of each."""

from __future__ import annotations

import pytest

from fillwork.errors import PlanError
from fillwork.readers.selectors import Condition, check_selectors, parse_choice

STYLE = ("Walls", "#0000ff", 0.3, True)


def conditions(text):
    (selector,) = parse_choice((text,), (), "auto").lines
    assert selector.text == text
    return selector.conditions


@pytest.mark.parametrize(
    ("text", "style", "fits"),
    [
        ("layer=Walls", STYLE, True), ("layer=walls", STYLE, False),
        ("layer=Walls", (None, *STYLE[1:]), False),
        ("colour=#00f", STYLE, True), ("colour=blue", STYLE, True),
        ("colour=rgb(0, 0, 255)", STYLE, True), ("colour=#00e", STYLE, False),
        ("colour=#00f", ("a", None, 1.0, False), False),
        ("dash=yes", STYLE, True), ("dash=NO", STYLE, False),
        ("dash=no", ("a", None, None, False), True),
        ("width<0.3", STYLE, False), ("width<0.3001", STYLE, True),
        ("width>0.3", STYLE, False), ("width>0.2999", STYLE, True),
        ("width=0.3", STYLE, True), ("width=0.30029", STYLE, True),
        ("width=0.3004", STYLE, False), ("width<0.03cm", STYLE, False),
        ("width<0.031cm", STYLE, True), ("width>0", ("a", None, None, False), False),
        ("class=Walls", STYLE, False), ("id=Walls", STYLE, False),
    ],
)  # fmt: skip
def test_conditions_fit_or_do_not(text, style, fits) -> None:
    (condition,) = conditions(text)
    assert condition.fits(style) is fits


def test_selectors_are_taken_apart() -> None:
    found = conditions(" Layer = My walls , width<1 in,colour=rgb(1,2,3)")
    assert found == (
        Condition("layer", "=", "My walls"),
        Condition("width", "<", "1 in", 25.4),
        Condition("colour", "=", "#010203"),
    )
    choice = parse_choice(("class=a,id=b", "class=a"), ("id=c", "dash=no"), "both")
    assert [(c.key, c.text) for c in choice.names] == [
        ("class", "a"), ("id", "b"), ("id", "c"),
    ]  # fmt: skip
    assert (choice.scope, choice.hidden) == ("both", "auto")
    asked = parse_choice(("layer=A,dash=no", "layer=b", "id=C"), ("layer=D",), "auto")
    assert asked.layers == {"A", "b"}


@pytest.mark.parametrize(
    ("text", "what", "mend"),
    [
        ("", "cannot understand", "write it like"),
        ("layer", "cannot understand", "write it like"),
        ("layer=", "cannot understand", "write it like"),
        ("layer=a,", "cannot understand", "write it like"),
        ("layr=a", "unknown word 'layr'", "did you mean layer?"),
        ("x=a", "unknown word 'x'", "use layer, colour"),
        ("layer<a", "layer cannot be compared with <", "write it like"),
        ("dash=maybe", "dash must be yes or no", "write it like"),
        ("colour=nothing", "unknown colour 'nothing'", "#0000ff"),
        ("width<wide", "the width in the selector", ""),
    ],
)
def test_selectors_that_are_wrong_are_told(text, what, mend) -> None:
    for check in (
        lambda: parse_choice((text,), (), "auto"),
        lambda: parse_choice((), (text,), "auto"),
        lambda: check_selectors(("layer=a", text)),
    ):
        with pytest.raises(PlanError) as caught:
            check()
        assert what in str(caught.value)
        assert mend in str(caught.value)
    check_selectors(())


@pytest.mark.parametrize(
    ("scope", "hidden", "what"),
    [
        ("strokd", "auto", "unknown word 'strokd' for scope"),
        ("zzz", "auto", "use auto, stroked, outlines, both"),
        ("auto", "dropp", "did you mean drop?"),
        ("auto", "", "unknown word '' for hidden"),
    ],
)
def test_words_that_are_not_known_are_told(scope, hidden, what) -> None:
    with pytest.raises(PlanError) as caught:
        parse_choice((), (), scope, hidden)
    assert what in str(caught.value)
