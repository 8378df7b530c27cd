"""Styles, maps and runs of placed blocks, each taken alone."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest

from fillwork.errors import ReadError
from fillwork.readers.dxf.entities import Drawer
from fillwork.readers.dxf.inserts import _compose, lay_out
from fillwork.readers.dxf.objects import Objects
from fillwork.readers.dxf.runs import draw_run
from fillwork.readers.dxf.sketch import Look, Sketch
from fillwork.readers.dxf.tables import Document, Layer
from fillwork.readers.dxf.tags import Entity
from fillwork.readers.limits import NORMAL
from fillwork.readers.selectors import parse_choice
from fillwork.readers.strokes.collect import Collector
from fillwork.readers.strokes.drawn import Drawn
from tests.unit.readers.dxf.test_document import cut, entity
from tests.unit.readers.dxf.test_entities import drawn, looks, rows, tags

PLAIN = Look("0", 256, "bylayer", -1, 0.0, False, "")
LAYERS = {
    "0": Layer("0"),
    "a": Layer("A", 1, "dashed", 50, handle="1A"),
    "b": Layer("B", "#123456", "continuous", -3),
    "off": Layer("Off", off=True),
    "ice": Layer("Ice", frozen=True, handle="1B"),
    "defpoints": Layer("Defpoints"),
}


def sketch_of(*strokes, places=()):
    """A sketch of lines of a look, from 0 to k, and of placed blocks."""
    sketch = Sketch()
    for k, look in enumerate(strokes):
        row = (0.0, 0.0, k + 1.0, 0.0, 0.0, 0.0, 0.0, 0.0)
        sketch.add([(0, row)], look, closed=False, name=f"LINE#{k}", line=k)
    for name, look, *maps in places:
        sketch.place((name, look, ""), [v for m in maps for v in m], 7)
    return sketch


def laid(
    model, blocks=(), *, shown=(), conditions=(), mm=1.0, limits=NORMAL, objects=None
):  # fmt: skip
    document = Document(model=model, layers=dict(LAYERS), dashed={"dashed"})
    document.objects = objects or document.objects
    for name, sketch in dict(blocks).items():
        document.blocks[name] = sketch
        document.written[name] = name.upper()
    held = Drawn(limits, "a.dxf", Collector(limits, "a.dxf"))
    found = lay_out(
        model, document, held, mm=mm,
        conditions=conditions, shown=frozenset(shown),
    )  # fmt: skip
    return found, held


def contexts(held):
    of = held.collector.item_context
    return [held.collector.contexts[k] for k in of]


# -- styles ---------------------------------------------------------------------

# what an entity says of itself, and what comes of it in the model, in a block on
# layer A of colour 5, dashed, 0.7 mm
AROUND = Look("a", 5, "dashed", 70, 0.0, False, "")


@pytest.mark.parametrize(
    ("look", "alone", "inside"),
    [
        # layer 0 and "by layer": those of the layer that the block stands on
        ({}, ("0", "#000000", False, 0.25), ("A", "#ff0000", True, 0.5)),
        # "by block"
        ({"colour": 0, "dash": "byblock", "weight": -2},
         ("0", "#000000", False, 0.25), ("A", "#0000ff", True, 0.7)),
        # its own
        ({"colour": 3, "dash": "dashed", "weight": 13},
         ("0", "#00ff00", True, 0.13), ("A", "#00ff00", True, 0.13)),
        ({"colour": "#abcdef", "dash": "continuous", "weight": -3},
         ("0", "#abcdef", False, 0.25), ("A", "#abcdef", False, 0.25)),
        # a layer of its own, and one that no table has
        ({"layer": "b"}, ("B", "#123456", False, 0.25), ("B", "#123456", False, 0.25)),
        ({"layer": "new"}, ("new", "#000000", False, 0.25),
         ("new", "#000000", False, 0.25)),
        ({"weight": 0}, ("0", "#000000", False, 0.0), ("A", "#ff0000", True, 0.0)),
        ({"width": 2.0}, ("0", "#000000", False, 20.0), ("A", "#ff0000", True, 20.0)),
    ],
)  # fmt: skip
@pytest.mark.reference("DXF reference: colour 0 and 256, weight -1, -2 and -3, layer 0")
def test_styles_are_the_entitys_the_layers_or_the_blocks(look, alone, inside) -> None:
    own = PLAIN._replace(**look)
    _, held = laid(sketch_of(own), mm=10.0)
    (c,) = contexts(held)
    assert (c.layer, c.colour, c.dash, c.width) == alone
    place = ("k", AROUND, (1, 0, 0, 1, 0, 0))
    _, held = laid(sketch_of(places=[place]), {"k": sketch_of(own)}, mm=10.0)
    (c,) = contexts(held)
    assert (c.layer, c.colour, c.dash, c.width) == inside


@pytest.mark.parametrize("filled", [False, True])
def test_areas_are_filled_and_lines_are_drawn(filled) -> None:
    (c,) = contexts(laid(sketch_of(PLAIN._replace(filled=filled)))[1])
    assert (c.stroked, c.filled, c.even_odd) == (not filled, filled, True)


@pytest.mark.parametrize(
    ("layer", "line", "block"),
    [("a", {}, {}), ("off", {"Off": 1}, {"Off": 1}), ("ice", {"Ice": 1}, {"Ice": 2}),
     ("defpoints", {"Defpoints": 1}, {"Defpoints": 1})],
)  # fmt: skip
def test_what_is_hidden_is_counted_by_its_layer(layer, line, block) -> None:
    look = PLAIN._replace(layer=layer)
    found, held = laid(sketch_of(look))
    assert found.hidden == line
    assert len(contexts(held)) == 1 - len(line)
    # a frozen layer hides the block as it is placed, twice; else what is on layer 0
    inner = {"k": sketch_of(PLAIN, PLAIN._replace(layer="b"))}
    twice = [(1, 0, 0, 1, 0, 0)] * 2
    found, held = laid(sketch_of(places=[("k", look, *twice)]), inner)
    assert found.hidden == dict.fromkeys(block, 2)
    layers = [c.layer for c in contexts(held)]
    both = {"a": ["A", "B"] * 2, "ice": []}
    assert layers == both.get(layer, ["B"] * 2)
    # unless it is asked for
    model = sketch_of(look, places=[("k", look, *twice)])
    found, held = laid(model, inner, shown=[layer])
    assert found.hidden == {}
    assert len(contexts(held)) == 5


def test_names_of_blocks_and_handles_are_bits() -> None:
    choice = parse_choice(("class=K", "id=1f", "class=other"), (), "auto")
    lines = sketch_of(PLAIN, PLAIN._replace(handle="1F"))
    model = sketch_of(PLAIN, places=[("k", PLAIN, (1, 0, 0, 1, 0, 0))])
    _, held = laid(model, {"k": lines}, conditions=choice.names)
    assert [c.names for c in contexts(held)] == [0, 1, 1 | 2]
    assert held.classes == ["K"]


# -- maps -----------------------------------------------------------------------


def test_maps_go_from_the_inside_out() -> None:
    outer = np.array([[0.0, 1, -1, 0, 5, 6], [2, 0, 0, 3, 0, 0]])
    inner = np.array([[1.0, 0, 0, 1, 1, 2], [1, 1, 0, 1, 0, 0], [-1, 0, 0, 1, 0, 0]])
    found = _compose(outer, inner)
    square = [np.array([[a, c, e], [b, d, f], [0, 0, 1]]) for a, b, c, d, e, f in outer]
    within = [np.array([[a, c, e], [b, d, f], [0, 0, 1]]) for a, b, c, d, e, f in inner]
    true = [(o @ i)[:2].T.ravel() for o in square for i in within]
    assert found == pytest.approx(np.array(true))


def test_a_block_stands_with_its_base_at_its_place() -> None:
    block = sketch_of(PLAIN)  # from (0, 0) to (1, 0)
    block.base = (1.0, 2.0)
    place = ("k", PLAIN, (0, 2, -3, 0, 10, 20), (1, 0, 0, 1, 0, 0))
    found, _ = laid(sketch_of(places=[place]), {"k": block})
    (table,) = found.tables
    assert table.data[:, :4].tolist() == [[16, 18, 16, 20], [-1, -2, 0, -2]]
    assert (table.start.tolist(), table.item.tolist()) == ([0, 1, 2], [0, 1])


def test_blocks_that_are_not_there_or_hold_themselves_are_told() -> None:
    one = (1, 0, 0, 1, 0, 0)
    inner = sketch_of(PLAIN, places=[("k", PLAIN, one), ("none", PLAIN, one)])
    found, held = laid(sketch_of(places=[("k", PLAIN, one)]), {"k": inner})
    assert found.doubts == {
        "the block “K” holds itself and is left out there": (7, 1),
        "the block “none” is placed but not in the file": (7, 1),
    }
    assert len(contexts(held)) == 1


def test_counts_grow_with_the_places() -> None:
    block = sketch_of()
    block.count("text")
    block.count("text")
    block.doubt("odd", 3)
    found, _ = laid(
        sketch_of(places=[("k", PLAIN, *[(1, 0, 0, 1, 0, 0)] * 3)]), {"k": block}
    )
    assert found.counts == {"text": 6}
    assert found.doubts == {"odd": (3, 1)}


@pytest.mark.parametrize(
    ("limit", "enough", "word"),
    [("curves", 12, "12 lines"), ("elements", 16, "16 placed blocks"),
     ("forms", 3, "more than 2 blocks .* over the limit forms = 2"),
     ("depth", 2, "1 deep")],
)  # fmt: skip
def test_what_is_laid_has_limits(limit, enough, word) -> None:
    four, three = [(1, 0, 0, 1, 0, 0)] * 4, [(1, 0, 0, 1, 0, 0)] * 3
    model = sketch_of(places=[("o", PLAIN, *four)])
    blocks = {"o": sketch_of(places=[("k", PLAIN, *three)]), "k": sketch_of(PLAIN)}
    found, _ = laid(model, blocks, limits=replace(NORMAL, **{limit: enough}))
    assert sum(len(t.kind) for t in found.tables) == 12
    with pytest.raises(ReadError, match=word):
        laid(model, blocks, limits=replace(NORMAL, **{limit: enough - 1}))


def test_a_cut_block_has_one_outline_wherever_it_stands() -> None:
    objects = Objects()
    for text in (
        tags("DICTIONARY", (5, "A"), (3, "ACAD_FILTER"), (360, "B")),
        tags("DICTIONARY", (5, "B"), (3, "SPATIAL"), (360, "C")),
        cut(((1, 2), (5, 2), (3, 7))),
    ):
        objects.take(entity(text), "utf-8")
    model = Sketch()
    maps = [(1, 0, 0, 1, 5, 6), (0, 2, -2, 0, 0, 0)]
    model.place(("k", PLAIN, "A"), [v for m in maps for v in m], 1)
    model.place(("k", PLAIN, "D"), [1, 0, 0, 1, 0, 0], 1)
    _, held = laid(model, {"k": sketch_of(PLAIN)}, objects=objects)
    assert [clip.matrix for clip in held.clips] == maps
    assert [clip.parent for clip in held.clips] == [-1, -1]
    one, other = (clip.shape for clip in held.clips)
    assert one is other
    assert one.outline.starts().tolist() == [[1, 2], [5, 2], [3, 7]]
    # of the three places the last is not cut
    assert [c.clip for c in contexts(held)] == [0, 1, -1]


# -- runs -----------------------------------------------------------------------


def run_of(kind, codes, *entities):
    values = [value for entity in entities for value in entity]
    return Entity(kind, [b"%d" % c for c in codes], values, 1, len(entities), 10)


def drawn_run(run, handles=()):
    sketch = Sketch()
    drawer = Drawer("utf-8", frozenset(handles), {}, NORMAL, "a.dxf")
    return draw_run(drawer, run, sketch), sketch


@pytest.mark.parametrize(
    ("codes", "one", "other", "at_once"),
    [
        ((10, 11), (0, 1), (0, 2), True),
        ((10, 11, 230), (0, 1, -1), (0, 2, 1), True),  # lines stand in no plane
        ((10, 11, 60), (0, 1, 0), (0, 2, 0), True),
        ((10, 11, 60), (0, 1, 1), (0, 2, 1), False),
        ((10, 11, 60), (0, 1, 0), (0, 2, 1), False),
    ],
)
def test_runs_of_lines(codes, one, other, at_once) -> None:
    done, sketch = drawn_run(run_of(b"LINE", codes, one, other))
    assert done is at_once
    assert rows(sketch)[:, 2].tolist() == ([1, 2] if at_once else [])
    assert list(sketch.line) == ([1, 11] if at_once else [])


@pytest.mark.parametrize(
    ("codes", "one", "other", "at_once"),
    [
        ((10, 230), (0, 1), (2, 1), True), ((10, 230), (0, -1), (2, -1), False),
        ((10, 70, 71), (0, 1, 1), (2, 1, 1), True), ((10, 70), (0, 2), (2, 2), False),
        ((10, 71), (0, 1), (2, 3), False), ((10, 210), (0, 0), (2, 0), True),
        ((10, 220), (0, 0.5), (2, 0.5), False),
    ],
)  # fmt: skip
def test_runs_of_blocks(codes, one, other, at_once) -> None:
    run = run_of(b"INSERT", (2, *codes), (b"K", *one), (b"K", *other))
    done, sketch = drawn_run(run)
    assert done is at_once
    if at_once:
        ((place, placing),) = sketch.placings.items()
        assert place == ("k", PLAIN, "")
        maps = np.array(placing.maps).reshape(-1, 6)
        assert maps.tolist() == [[1, 0, 0, 1, 0, 0], [1, 0, 0, 1, 2, 0]]
    # where handles are asked for, each is drawn alone
    assert not drawn_run(run_of(b"INSERT", (10,), (0,), (1,)), ["A"])[0]


def test_a_run_of_turned_blocks_is_that_of_its_blocks() -> None:
    codes = (2, 10, 20, 41, 42, 50, 8)
    told = [(b"K", 1, 2, 3, -4, 30, b"x"), (b"M", 5, 6, 1, 1, 90, b"x"),
            (b"K", 0, 0, 2, 2, -45, b"x")]  # fmt: skip
    done, sketch = drawn_run(run_of(b"INSERT", codes, *told))
    assert done
    single = drawn(
        *(
            tags("INSERT", *((c, v.decode() if isinstance(v, bytes) else v)
                             for c, v in zip(codes, one, strict=True)))
            for one in told
        )
    )  # fmt: skip
    assert list(sketch.placings) == list(single.placings)
    for place, placing in single.placings.items():
        assert list(sketch.placings[place].maps) == pytest.approx(list(placing.maps))
    turn = math.radians(30)
    first = list(sketch.placings[next(iter(sketch.placings))].maps)[:4]
    c, s = math.cos(turn), math.sin(turn)
    true = (3 * c, 3 * s, 4 * s, -4 * c)
    assert first == pytest.approx(true)


def test_lines_of_a_run_keep_their_looks_and_names() -> None:
    run = run_of(
        b"LINE", (5, 8, 10, 11), (b"1 ", b"a", 0, 1), (b"2", b"b", 3, 3),
        (b"3", b"a", 0, 2), (b"4", b"b", 0, 5),
    )  # fmt: skip
    done, sketch = drawn_run(run)
    assert done
    assert sketch.names == ["LINE#1", "LINE#3", "LINE#4"]
    assert [look.layer for look in looks(sketch)] == ["a", "a", "b"]
    assert list(sketch.line) == [1, 21, 31]
    assert rows(sketch)[:, 2].tolist() == [1, 2, 5]


def test_a_handle_of_several_lines_is_drawn_alone() -> None:
    run = run_of(b"LINE", (5, 10, 11), (b"A\nB", 0, 1), (b"C", 0, 1))
    with pytest.raises(ValueError, match="several lines"):
        drawn_run(run)
    sketch = Sketch()
    Drawer("utf-8", frozenset(), {}, NORMAL, "a.dxf").draw(run, sketch)
    assert len(sketch) == len(sketch.names) == 2
