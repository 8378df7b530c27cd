"""The page's parts fit together, live and as one file."""

from __future__ import annotations

import json
import re
from collections import Counter
from dataclasses import fields

from fillwork.colouring.model import SCOPES, TASTES
from fillwork.plans.model import FITS, SHEETS, Plan
from fillwork.renderers.page import html


def _modules() -> list[str]:
    return [name for name in html.ASSETS if name.endswith(".js")]


def _source(name: str) -> str:
    found = html.asset(name)
    assert found is not None
    return found[0].decode()


def test_every_module_imports_only_from_those_before_it() -> None:
    seen: set[str] = set()
    for name in _modules():
        asked = re.findall(r'from "\./(\S+)"', _source(name))
        assert set(asked) <= seen, name
        seen.add(name)


def test_no_word_of_the_page_is_given_twice() -> None:
    # of two entries with one key in an object, JavaScript silently takes the last
    above: list[tuple[int, int]] = []  # indents of the lines that open a block
    keys = Counter[tuple[int, str]]()
    for number, line in enumerate(_source("text.js").splitlines()):
        indent = len(line) - len(line.lstrip())
        while above and line.strip() and above[-1][0] >= indent:
            above.pop()
        entry = re.match(r'\s+("[^"]*"|\w+): (\{.*\},$)?', line)
        if entry and above:
            keys[above[-1][1], entry[1].strip('"')] += 1
            inner = re.findall(r'[{,] ("[^"]*"|\w+): ["`]', entry[2] or "")
            keys.update((number, key.strip('"')) for key in inner)
        if line.endswith("{"):
            above.append((indent, number))
    assert len(keys) > 300
    assert [key for (_, key), count in keys.items() if count > 1] == []


def test_the_page_has_words_for_each_choice_that_it_offers() -> None:
    kinds = {one.name: one.metadata.get("kind") for one in fields(Plan)}
    for name, wanted in {
        "sheets": {*SHEETS} - {"repair"},  # which comes with a patch
        "tastes": TASTES,
        "fits": FITS,
        "scopes": SCOPES,
        "reaches": SCOPES,
        "matches": kinds["match"],
        "edges": kinds["page_edge"],
        "views": kinds["view"],
    }.items():
        (block,) = re.findall(
            rf"\n  {name}: {{(.*?)}},\n", _source("text.js"), re.DOTALL
        )
        given = re.findall(r'(?:^|[\s{,])"?([\w-]+)"?: ["`]', block)
        assert set(given) == set(wanted), name


def test_no_name_stands_twice_in_the_single_file() -> None:
    names = [
        found
        for name in _modules()
        for found in re.findall(
            r"^(?:export )?(?:async )?(?:function|class|const|let) (\w+)",
            _source(name),
            re.MULTILINE,
        )
    ]
    assert [n for n, count in Counter(names).items() if count > 1] == []


def test_nothing_is_asked_of_another_site() -> None:
    for name in (name for name in html.ASSETS if not name.endswith(".ttf")):
        assert not re.search(r"https?://|//[a-z]+\.", _source(name)), name


def test_data_cannot_end_its_own_element() -> None:
    evil = {"file": "</script><script>alert(1)</script>"}
    page = html.single_file(evil, {}, "schema = 1\n").decode()
    data = re.search(r'id="data">(.*)</script>\n', page)
    assert data is not None
    assert json.loads(data.group(1))["drawing"] == evil
    assert page.count("<script") == 2
    assert "script-src 'sha256-" in page
    assert html.asset("../html.py") is None
