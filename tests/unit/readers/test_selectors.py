"""Selectors of style sheets that ask for attributes, as Selectors Level 4 has them."""

from __future__ import annotations

import pytest

from fillwork.readers import read_linework

PATH = '<path id="p" d="M0 0L9 9" data-name="final ink-line" lang="en-GB" empty=""/>'


@pytest.mark.reference("Selectors Level 4, sections 6.1 and 6.2")
@pytest.mark.parametrize(
    ("asked", "fits"),
    [
        ("[data-name]", True), ("[title]", False), ("[empty]", True),
        ("[lang=en-GB]", True), ("[lang='en']", False),
        ("[data-name~=ink-line]", True), ("[data-name~=ink]", False),
        ("[data-name~='']", False),
        ("[lang|=en]", True), ("[lang|=en-GB]", True), ("[lang|=e]", False),
        ("[data-name^=final]", True), ("[data-name^=ink]", False),
        ("[lang^='']", False), ("[lang$='']", False), ("[lang*='']", False),
        ("[data-name$=line]", True), ("[data-name$=ink]", False),
        ("[data-name*='l ink']", True), ("[data-name*=pen]", False),
        ("path[lang][data-name]", True), ("path[lang][title]", False),
        ("path:not([title])", True), ("path:not([lang|=en])", False),
    ],
)  # fmt: skip
def test_an_attribute_is_asked_for(asked: str, fits: bool) -> None:
    drawing = (
        '<svg xmlns="http://www.w3.org/2000/svg" width="10mm" height="10mm" '
        f'viewBox="0 0 10 10"><style>path{{stroke:#0000ff}} {asked}{{stroke:#ff0000}}'
        f"</style>{PATH}</svg>"
    )
    work = read_linework(drawing.encode())
    assert work.styles[int(work.style[0])][1] == ("#ff0000" if fits else "#0000ff")
