"""Each rule of taste with and without it: two assignments that it alone ranks.

A case is a drawing, a palette and two assignments. By construction they differ in what
the rule speaks of; what else they differ in speaks against the first, or not at all.
So the first costs less with the rule, and no less where its weight is taken away.
"""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
import pytest

from fillwork.colouring.adjacency import measure_adjacency
from fillwork.colouring.model import TASTES, Rules
from fillwork.colouring.search.setting import prepare_setting
from fillwork.colouring.search.taste import CHARACTERS, RULES
from fillwork.symmetry.kinds.orbits import find_orbits
from fillwork.symmetry.zones.find import find_zones
from tests.unit.colouring.stand_ins import drawing, graph, kinds, palette
from tests.unit.colouring.test_taste import with_areas, with_kinds

SOLVED = {"spark", "wall", "calm", "rim", "focus"}
"""Rules that test_taste.py shows by what is chosen, with and without them."""

# two hues of one lightness and one chroma, each dark and light, and greys
DARK = {"red": "#8a3a35", "blue": "#2f5485"}
PALE = {"rose": "#d99a93", "sky": "#8fb0de"}
GREYS = {"white": "#f2f2f2", "ash": "#b4b4b4", "lead": "#6f6f6f", "coal": "#303030"}
PAINTS = {**DARK, **PALE, **GREYS, "rust": "#734a3e",
          "slate": "#787878"}  # fmt: skip
MAIN = dict.fromkeys(PAINTS, "main")


@dataclass(frozen=True)
class Case:
    """One drawing, and an assignment that a rule prefers to another."""

    scene: tuple
    liked: str  # a swatch a class, parted by blanks
    other: str
    more: dict = field(default_factory=dict)  # of the palette: roles, shares
    rules: Rules = field(default_factory=Rules)

    def gap(self) -> float:
        """Return by how much the one that is liked costs less."""
        names = list(dict.fromkeys(f"{self.liked} {self.other}".split()))
        more = {k: [v.get(n) for n in names] for k, v in self.more.items()}
        paints = palette(*(PAINTS[n] for n in names), names=names, **more)
        taste = prepare_setting(*self.scene, paints, self.rules).taste
        one, two = (
            np.array([names.index(n) for n in text.split()])
            for text in (self.liked, self.other)
        )
        return taste.measure(two) - taste.measure(one)


def stated(links, areas, **more):
    scene = with_areas(graph(len(areas), links), areas)
    return with_kinds(scene, **more) if more else scene


def of_lines(lines, width, height, of_face=None):
    """Return the regions of lines; their kinds by symmetry, or as stated."""
    board = drawing(lines, width, height)
    rows = (
        kinds(board, of_face(board))
        if of_face
        else find_orbits(board, find_zones(board))
    )
    return board, rows, measure_adjacency(board, rows)


def leaf():
    """Return a leaf cut along its rib on a ground: ground, upper half, lower half."""
    sides = [(0, 0, 60, 0), (60, 0, 60, 60), (60, 60, 0, 60), (0, 60, 0, 0)]
    halves = [
        (*a, *b)
        for y in (33, 27)
        for a, b in (((10, 30), (30, y)), ((30, y), (50, 30)))
    ]

    def of_face(board):
        y = board.witness[1:, 1]
        return [-1, *np.where(board.area[1:] > 500, 0, np.where(y > 30, 1, 2))]

    return of_lines([*sides, *halves, (10, 30, 50, 30)], 60, 60, of_face)


def strips():
    """Return a ground, two thin strips and two squares, all of 64 mm²."""
    boxes = [
        (0, 0, 80, 80),
        (8, 10, 64, 1),
        (8, 20, 64, 1),
        (8, 40, 8, 8),
        (8, 60, 8, 8),
    ]
    lines = []
    for x, y, w, h in boxes:
        corners = [(x, y), (x + w, y), (x + w, y + h), (x, y + h)]
        lines += [(*corners[k - 1], *corners[k]) for k in range(4)]

    def of_face(board):
        order = np.argsort(board.witness[1:, 1])
        row = np.empty(5, int)
        row[order[board.area[1:][order] < 100]] = [1, 2, 3, 4]
        row[board.area[1:] > 100] = 0
        return [-1, *row]

    return of_lines(lines, 80, 80, of_face)


def row_of_bricks():
    lines = [(0, 0, 80, 0), (0, 10, 80, 10), *((x, 0, x, 10) for x in range(0, 81, 10))]
    return of_lines(lines, 80, 10)


def squares():
    """Return a field of four by four squares that stand apart on a ground."""
    lines = [(0, s, 80, s) for s in (0, 80)] + [(s, 0, s, 80) for s in (0, 80)]
    for x in range(10, 80, 20):
        for y in range(10, 80, 20):
            corners = [(x - 5, y - 5), (x + 5, y - 5), (x + 5, y + 5), (x - 5, y + 5)]
            lines += [(*corners[k - 1], *corners[k]) for k in range(4)]
    return of_lines(lines, 80, 80)


CASES = {
    # two pairs that touch: dark beside light, or dark beside dark
    "contrast": Case(
        stated([(1, 2), (3, 4)], [10, 1, 1, 1, 1]),
        "white red rose blue sky",
        "white red blue rose sky",
    ),
    # ten parts alike: as much of each as its share
    "area": Case(
        stated([], [1.0] * 10),
        "red " * 7 + "blue " * 3,
        "red " * 3 + "blue " * 7,
        {"shares": {"red": 0.7, "blue": 0.3}},
    ),
    "ground": Case(
        stated([(0, k) for k in range(1, 5)], [4, 4, 1, 1, 1]),
        "red blue white white white",
        "blue red white white white",
        {"roles": {"red": "ground", "blue": "accent", "white": "main"}},
    ),
    "quiet": Case(
        stated([], [10.0, 1.0]), "lead red", "red lead",
        {"roles": {"lead": "main", "red": "main"}},
    ),
    "middle": Case(
        stated([], [10, 1, 1], sites=("C1", "D8", "C1")),
        "white red blue", "white blue red",
    ),
    # the widest beside the ground is 20 L* apart from it, another of its size is not
    "value": Case(
        stated([(0, 1), (0, 2)], [10, 4, 4]), "red sky blue", "red blue sky",
    ),
    # wide parts of one zone apart from each other, in two zones
    "hollow": Case(
        stated([], [9, 4, 4] * 2, zones=[1, 1, 1, 2, 2, 2], roles=("", "")),
        "white lead coal white lead coal",
        "white lead lead white coal coal",
    ),
    "answer": Case(
        stated([], [9, 4] * 4, zones=[1, 1, 2, 2, 3, 3, 4, 4],
               roles=("", "border", "border", "")),
        "white ash lead ash lead ash white coal",
        "white ash lead ash white coal lead ash",
    ),
    # two sides that meet at their ends
    "sides": Case(
        stated([(0, 1), (0, 2), (1, 2)], [40, 9, 9], zones=[1, 2, 3],
               roles=("field", "border", "border")),
        "white blue sky", "white blue rose",
    ),
    "frame": Case(
        stated([], [9, 4, 4, 4], zones=[1, 1, 2, 3], roles=("field", "border", "")),
        "red white sky blue", "red white blue sky",
    ),
    "likeness": Case(
        stated([], [9, 1, 1, 1, 1], families=[0, 1, 1, 2, 2]),
        "white red red blue blue", "white red blue red blue",
    ),
    # four small ones in a chain, two more by themselves
    "chains": Case(
        stated([(1, 2), (2, 3), (3, 4)], [90, 1, 1, 1, 1, 1, 1]),
        "white red blue red blue rose sky",
        "white red blue rose sky red blue",
    ),
    "leaves": Case(leaf(), "white sky blue", "white blue sky"),
    "stems": Case(
        strips(), "white red red blue blue", "white red blue red blue",
    ),
    "exchange": Case(
        squares(), "slate red sky", "slate red blue", rules=Rules(counterchange=2),
    ),
    # many kinds of one hue are dull
    "hues": Case(stated([], [1.0] * 8), "red blue " * 4, "red rust " * 4,
                 {"roles": MAIN}),
    "many": Case(
        stated([], [9, 1.0]), "red blue", "red red",
        {"shares": {"red": 1.0, "blue": 0.01}},
    ),
    "lines": Case(
        row_of_bricks(), "sky", "rust", {"shares": {"sky": 0.01, "rust": 1.0}},
        Rules(counterchange="no", goal_difference=0),
    ),
}  # fmt: skip


def test_every_rule_is_shown_with_and_without_it() -> None:
    assert set(CASES) | SOLVED == set(RULES)


@pytest.mark.parametrize("rule", CASES)
def test_a_rule_alone_decides(rule: str, monkeypatch) -> None:
    case = CASES[rule]
    assert case.gap() > 1e-6
    monkeypatch.setitem(RULES, rule, (0.0, ""))
    assert case.gap() <= 1e-9


def test_characters_are_those_of_the_plan_file_and_lean_rules_that_there_are() -> None:
    assert tuple(CHARACTERS) == TASTES
    for character in CHARACTERS.values():
        assert set(character.factors) <= set(RULES)
