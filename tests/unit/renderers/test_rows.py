"""Columns give the text that the standard library's `json` gives for tables."""

import json
from types import SimpleNamespace

import numpy as np
import pytest

from fillwork.renderers.report import _worn, to_json
from fillwork.renderers.rows import Coded, Rows, json_text, plain

NUMBERS = (
    0.0, -0.0, 0.001, -0.001, 0.1, 0.5, 1.0, -12.25, 999.999, 1000.0, 123456.789,
    1e-7, 0.000254, 0.0005, 1 / 3, -2 / 3, 1e15, 2.0**53, 1e16, 1e17, -1e300, 5e-324,
)  # fmt: skip


def table(count=1000, seed=1):
    chance = np.random.default_rng(seed)
    return Rows(
        {
            "id": np.arange(1, count + 1),
            "kind": Coded(
                ['A"', "ü%s", "\n\t\x00", None], chance.integers(-1, 3, count)
            ),
            "at %": np.round(chance.normal(size=(count, 2)) * 1000, 3),
            "area": chance.choice(NUMBERS, count),
            "whole": chance.integers(-(10**12), 10**12, count),
            "cut": chance.random(count) > 0.5,
            "names": Coded([["a", "b"], [], ["ç"]], chance.integers(0, 3, count)),
        }
    )


def by_the_standard_library(rows):
    return ",\n  ".join(
        json.dumps(row, ensure_ascii=False, allow_nan=False) for row in rows
    )


@pytest.mark.parametrize("count", [1, 2, 1000])
def test_text_is_that_of_the_standard_library(count):
    rows = table(count)
    assert rows.text(",\n  ").decode() == by_the_standard_library(rows)


def test_blocks_join_without_a_seam(monkeypatch):
    rows = table(50)
    whole = rows.text(",\n  ")
    monkeypatch.setattr("fillwork.renderers.rows._BLOCK", 7)
    assert rows.text(",\n  ") == whole


@pytest.mark.parametrize("value", NUMBERS)
def test_single_numbers(value):
    rows = Rows({"v": np.array([value])})
    assert rows.text("").decode() == json.dumps({"v": value})


def test_a_list_at_the_end_is_closed():
    rows = Rows({"v": np.array([[1.5, 2.0], [0.0, -3.25]])})
    assert rows.text(";") == b'{"v": [1.5, 2.0]};{"v": [0.0, -3.25]}'


def test_no_number_is_refused():
    with pytest.raises(ValueError, match="not JSON compliant"):
        Rows({"v": np.array([np.nan])}).text(",")


def test_rows_are_a_list_of_tables():
    rows = table(5)
    tables = list(rows)
    assert len(rows) == 5
    assert rows[2] == tables[2]
    assert rows[-1] == tables[-1]
    assert rows[1:3] == tables[1:3]
    assert rows == tables
    assert rows.with_column("more", np.zeros(5)) != tables


def test_a_report_of_columns_is_that_of_tables():
    rows = table(20)
    report = {"schema": 1, "regions": rows, "none": Rows({"v": np.zeros(0)})}
    assert to_json(report) == to_json(plain(report))
    read = json.loads(to_json(report))
    assert read["none"] == []
    assert read["regions"] == list(rows)
    assert json_text("\x00") == '"\\u0000"'


def test_values_that_stand_many_times_are_written_in_every_row_and_block(monkeypatch):
    monkeypatch.setattr("fillwork.renderers.rows._BLOCK", 3)
    values = ["a", "b b", None, ["c", "d"], 1]
    which = np.array([3, 0, -1, 2, 3, 1, 0, -2])
    text = Rows({"v": Coded(values, which)}).text(", ")
    assert json.loads(b"[" + text + b"]") == [{"v": values[k]} for k in which]


def test_kinds_bear_the_swatches_of_all_their_regions():
    swatch = np.array([-1, 2, 0, 2, 1, 1])
    kinds = [SimpleNamespace(faces=np.array(f)) for f in ([1], [2, 3], [4], [3, 2, 5])]
    found = _worn(SimpleNamespace(orbits=kinds), swatch, ["white", "red", "blue"])
    assert [found.values[k] for k in found.rows] == [
        ["blue"], ["white", "blue"], ["red"], ["white", "red", "blue"]
    ]  # fmt: skip
