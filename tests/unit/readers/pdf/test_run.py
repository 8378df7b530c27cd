"""What each operator hands on, taken down by one who only listens."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pikepdf
import pytest
from pikepdf import Array, Dictionary, Name

from fillwork.errors import ReadError
from fillwork.geometry import affine
from fillwork.geometry.curves import CUBIC, LINE
from fillwork.readers.limits import NORMAL
from fillwork.readers.pdf.content import Painter
from fillwork.readers.pdf.functions import BROKEN
from fillwork.readers.pdf.pages import Layers
from fillwork.readers.pdf.run import ACTS, MOST_SAVED, Run
from fillwork.readers.pdf.state import State
from fillwork.readers.pdf.streams import Unpacker
from fillwork.readers.pdf.tokens import operators
from fillwork.readers.strokes.collect import Collector
from fillwork.readers.strokes.drawn import Drawn


class Listener:
    """Takes down what is painted, clipped and counted."""

    def __init__(self) -> None:
        self.one_ink = False
        self.painted = []
        self.clips = []
        self.marks = []
        self.drawn = self
        self.counts = {}
        self.spent = 0

    def spend(self, tokens):
        self.spent += tokens

    def paint(self, path, state, **how):
        self.painted.append((path, state, tuple(how.values())))

    def paint_lines(self, rows, state):
        self.painted.append((rows, state, None))

    def clip(self, path, state, even_odd):
        self.clips.append((path, even_odd))
        return len(self.clips) - 1

    def mark(self, group):
        self.marks.append(group)

    def unmark(self):
        self.marks.append("end")

    def shade(self, state):
        self.painted.append((None, state, "shade"))
        return state.clip >= 0


def run(data, resources=None, **state):
    listener = Listener()
    followed = Run(listener, resources or {}, State(affine.IDENTITY, **state), ())
    for word, operands in operators(data, lambda _: None):
        if word in ACTS:
            ACTS[word](followed, operands)
    return followed, listener


def sides(path):
    return np.array(path.rows).reshape(-1, 8)


TRIANGLE = b"1 2 m 5 2 l 5 6 l "


@pytest.mark.parametrize(
    ("word", "stroked", "filled", "even_odd", "closed"),
    [
        (b"S", True, False, False, False), (b"s", True, False, False, True),
        (b"f", False, True, False, False), (b"F", False, True, False, False),
        (b"f*", False, True, True, False), (b"B", True, True, False, False),
        (b"B*", True, True, True, False), (b"b", True, True, False, True),
        (b"b*", True, True, True, True), (b"n", False, False, False, False),
    ],
)  # fmt: skip
@pytest.mark.reference("ISO 32000-1, table 60: operators that paint a path")
def test_paths_are_painted_as_their_operator_says(
    word, stroked, filled, even_odd, closed
) -> None:
    followed, heard = run(TRIANGLE + word)
    ((path, _, how),) = heard.painted
    assert how == (stroked, filled, even_odd)
    assert path.closed == [closed]
    assert sides(path)[:, :4].tolist() == [[1, 2, 5, 2], [5, 2, 5, 6]] + (
        [[5, 6, 1, 2]] if closed else []
    )
    assert followed.path.at is None


@pytest.mark.reference("ISO 32000-1, table 59: operators that make a path")
def test_paths_are_made_of_lines_and_cubics() -> None:
    _, heard = run(b"1 2 m 3 4 l 4 5 6 7 8 9 c 1 1 2 2 v 3 3 5 5 y h 7 7 l 1 1 m S")
    path = heard.painted[0][0]
    assert list(path.kinds) == [LINE, CUBIC, CUBIC, CUBIC, LINE, LINE]
    assert sides(path).tolist() == [
        [1, 2, 3, 4, 0, 0, 0, 0],
        [3, 4, 4, 5, 6, 7, 8, 9],
        [8, 9, 8, 9, 1, 1, 2, 2],
        [2, 2, 3, 3, 5, 5, 5, 5],
        [5, 5, 1, 2, 0, 0, 0, 0],
        [1, 2, 7, 7, 0, 0, 0, 0],
    ]
    assert (path.start, path.closed) == ([0, 5, 6], [True, False])


@pytest.mark.parametrize(
    ("data", "rows"),
    [
        (b"3 4 l 5 6 l S", [[3, 4, 5, 6, 0, 0, 0, 0]]),  # without a point before
        (b"1 1 3 3 5 6 c S", [[1, 1, 1, 1, 3, 3, 5, 6]]),
        (b"3 3 5 6 v S", [[3, 3, 3, 3, 3, 3, 5, 6]]),
        (b"1 1 m 1 1 l 1 1 1 1 1 1 c h S", []),  # no side has a length
        (b"1 1 m 2 2 2 2 1 1 c S", [[1, 1, 2, 2, 2, 2, 1, 1]]),
        (b"h S", []),
        (b"1 2 3 0 re S", [[1, 2, 4, 2, 0, 0, 0, 0], [4, 2, 1, 2, 0, 0, 0, 0]]),
    ],
)
def test_odd_paths(data, rows) -> None:
    assert sides(run(data)[1].painted[0][0]).tolist() == rows


def test_lines_that_come_at_once_begin_their_own_path() -> None:
    lines = b" 1 1 m 2 2 l S" * 4 + b" "
    _, heard = run(b"0 0 m 9 9 l S" + lines)
    assert [how for *_, how in heard.painted] == [(True, False, False), None]
    assert heard.painted[1][0].tolist() == [[1, 1, 2, 2]] * 4
    # a clip that waits belongs to the first
    _, heard = run(b"0 0 m 9 9 l S 5 5 m S W 0 0 m 9 9 l S" + lines)
    assert len(heard.clips) == 1


@pytest.mark.parametrize(
    ("data", "clips"),
    [
        (TRIANGLE + b"W n", [False]), (TRIANGLE + b"W* n", [True]),
        (TRIANGLE + b"W* W f", [False]), (TRIANGLE + b"n", []), (b"W n", []),
        (TRIANGLE + b"W n " + TRIANGLE + b"n", [False]), (b"1 1 m W n", [False]),
    ],
)  # fmt: skip
@pytest.mark.reference("ISO 32000-1, section 8.5.4: clips count after the painting")
def test_clips_count_once_painted(data, clips) -> None:
    followed, heard = run(data)
    assert [even_odd for _, even_odd in heard.clips] == clips
    assert followed.state.clip == len(clips) - 1
    assert all(state.clip == -1 for _, state, _ in heard.painted[:1])


def test_states_are_saved_and_restored() -> None:
    followed, _ = run(b"Q q 5 w q 7 w Q")
    assert followed.state.width == 5
    followed, _ = run(b"q " * (MOST_SAVED + 5) + b"Q")
    assert len(followed.saved) == MOST_SAVED - 1
    followed, _ = run(b"2 0 0 3 10 20 cm 1 0 0 1 1 1 cm")
    assert followed.state.matrix == (2, 0, 0, 3, 12, 23)
    for wrong in (b"1 0 0 1 0 1e999 cm", b"1e999 w", b"1 cm", b"/A w"):
        with pytest.raises(BROKEN):
            run(wrong)


@pytest.mark.parametrize(
    ("told", "meant"),
    [
        ({}, {}),
        ({"LW": -3}, {"width": 3.0}),
        ({"CA": 0.25}, {"stroke_alpha": 0.25}),
        ({"ca": 0.5}, {"fill_alpha": 0.5}),
        ({"D": Array([Array([3, 2]), 0])}, {"dash": True}),
        ({"SMask": Dictionary()}, {"masked": True}),
        ({"SMask": Name("/None")}, {}),
        ({"BM": Name.Multiply}, {"blended": True}),
        ({"BM": Name.Compatible}, {}),
    ],
)
@pytest.mark.reference("ISO 32000-1, table 58: graphics state parameters")
def test_states_of_the_file(told, meant) -> None:
    told = Dictionary({f"/{key}": value for key, value in told.items()})
    followed, _ = run(b"/T gs", {"/ExtGState": Dictionary(T=told)})
    plain = State(affine.IDENTITY)
    changed = {
        key: getattr(followed.state, key)
        for key in State.__slots__
        if getattr(followed.state, key) != getattr(plain, key)
    }
    assert changed == meant


@pytest.mark.parametrize(
    ("data", "fill", "stroke"),
    [
        (b"", "#000000", "#000000"), (b"1 g", "#ffffff", "#000000"),
        (b"1 G", "#000000", "#ffffff"), (b"1 0 0 rg", "#ff0000", "#000000"),
        (b"0 1 0 RG", "#000000", "#00ff00"), (b"0 0 1 0 k", "#ffff00", "#000000"),
        (b"1 0 0 0 K", "#000000", "#00ffff"),
        (b"/DeviceRGB cs 0 0 1 sc", "#0000ff", "#000000"),
        (b"/DeviceRGB CS 0 0 1 SCN", "#000000", "#0000ff"),
        (b"1 g /DeviceGray cs", "#000000", "#000000"),
        (b"1 G /DeviceCMYK CS", "#000000", "#000000"),
        (b"1 0 0 rg 0.2 scn", None, "#000000"),  # too few numbers
    ],
)  # fmt: skip
@pytest.mark.reference("ISO 32000-1, table 74: operators that choose colours")
def test_colours_are_those_of_fills_or_of_lines(data, fill, stroke) -> None:
    followed, _ = run(data)
    assert (followed.state.fill, followed.state.stroke) == (fill, stroke)
    listener = Listener()
    listener.one_ink = True
    one = Run(listener, {}, State(affine.IDENTITY, fill="#123456"), ())
    for word, operands in operators(data, lambda _: None):
        ACTS[word](one, operands)
    assert (one.state.fill, one.state.stroke) == ("#123456", "#000000")


PATTERNS = {
    "/Pattern": Dictionary(
        T=Dictionary(PatternType=1, PaintType=1),
        I=Dictionary(PatternType=1, PaintType=2),
        S=Dictionary(
            PatternType=2, Shading=Dictionary(ShadingType=2, Extend=Array([True] * 2))
        ),
        H=Dictionary(PatternType=2, Shading=Dictionary(ShadingType=2)),
    ),
    "/ColorSpace": Dictionary(U=Array([Name.Pattern, Name.DeviceRGB])),
}


@pytest.mark.parametrize(
    ("data", "shading", "ink"),
    [
        (b"/Pattern cs /T scn", False, None),
        (b"/T scn", False, None),
        (b"/U cs 1 0 0 /I scn", False, "#ff0000"),
        (b"/U cs /I scn", False, "#000000"),
        (b"/Pattern cs 0.2 /I scn", False, "#333333"),
        (b"/Pattern cs /S scn", True, None),
        (b"/Pattern cs /H scn", False, None),
    ],
)
@pytest.mark.reference("ISO 32000-1, section 8.7.3.3: tiles without colours")
def test_patterns_are_chosen(data, shading, ink) -> None:
    followed, _ = run(b"2 0 0 2 0 0 cm 1 g " + data, PATTERNS)
    state = followed.state
    assert (state.fill, state.fill_space.kind) == (None, "pattern")
    assert bool(state.shading) is shading
    tiles = b"/S" not in data and b"/H" not in data
    assert (state.pattern is not None) is tiles
    if tiles:
        # a pattern stands in the units of the stream, whatever was done since
        assert (state.pattern.base, state.pattern.ink) == (affine.IDENTITY, ink)
    # another colour ends it
    after, _ = run(data + b" 1 g", PATTERNS)
    assert (after.state.pattern, after.state.shading) == (None, "")
    stroke, _ = run(data.replace(b"scn", b"SCN").replace(b"cs", b"CS"), PATTERNS)
    assert (stroke.state.stroke, stroke.state.fill) == (None, "#000000")
    assert stroke.state.pattern is None


def test_marked_content_may_name_a_layer() -> None:
    layer = Dictionary(Type=Name.OCG)
    resources = {"/Properties": Dictionary(L=layer)}
    _, heard = run(b"/OC /L BDC /Span <</A 1>> BDC /P /L BDC /A BMC EMC", resources)
    assert heard.marks == [layer, None, None, None, "end"]
    listener = Listener()
    with pytest.raises(BROKEN):
        ACTS[b"BDC"](Run(listener, {}, State(affine.IDENTITY), ()), [b"/OC", b"/X"])
    assert listener.marks == [None]  # its end is to come


def test_what_is_no_line_work_is_counted() -> None:
    shadings = {"/Shading": Dictionary(A=Dictionary(ShadingType=2))}
    data = b"(a)Tj [(a)]TJ (a)' 1 1 (a)\" BI /W 1 /H 1 ID x EI /A sh"
    followed, heard = run(data, shadings)
    assert heard.counts == {"text": 4, "image": 1, "shading": 1}
    ((_, state, _),) = heard.painted
    assert (state.fill, state.fill_space.kind, state.shading) == (None, "pattern", "")
    _, heard = run(b"/A sh", shadings, clip=3)
    assert heard.counts == {}
    assert followed.state.fill == "#000000"


# -- the painter ----------------------------------------------------------------


def painter(layers=None, **limits):
    allowed = replace(NORMAL, **limits)
    drawn = Drawn(allowed, "a.pdf", Collector(allowed, "a.pdf"))
    return Painter(drawn, Unpacker(allowed, "a.pdf"), layers or Layers(), 25.4 / 72)


def painted(data, **limits):
    found = painter(**limits)
    found.run(data, Dictionary(), State(affine.IDENTITY), ())
    return found


def test_what_is_painted_is_told_of() -> None:
    found = painted(b"2 w 1 0 0 RG 0 0 1 rg 0 0 4 4 re B 0 0 4 4 re f* 0 0 m 1 1 l S")
    contexts = found.drawn.collector.contexts
    point = 25.4 / 72
    assert [(c.stroked, c.filled, c.even_odd) for c in contexts] == [
        (True, True, False), (False, True, True), (True, False, False),
    ]  # fmt: skip
    assert [c.colour for c in contexts] == ["#ff0000", "#0000ff", "#ff0000"]
    assert [c.fill for c in contexts] == ["#0000ff", "#0000ff", None]
    assert [c.width for c in contexts] == pytest.approx([2 * point, 0, 2 * point])
    assert [c.covers for c in contexts] == [True, True, False]
    assert found.table().start.tolist() == [0, 4, 8, 9]
    assert found.drawn.collector.item_name == ["path 1", "path 2", "path 3"]


def test_the_thinnest_line_is_that_of_300_dots_an_inch() -> None:
    for data, width in (
        (b"0 w", 25.4 / 300),
        (b"3 0 0 3 0 0 cm 0.1 w", 0.3 * 25.4 / 72),
    ):
        found = painted(data + b" 0 0 m 9 9 l S")
        assert found.drawn.collector.contexts[0].width == pytest.approx(width)


def test_many_lines_are_each_a_path() -> None:
    line = b" 1 1 m 2 2 l S"
    found = painted(b"0 0 m 9 9 l S" + line * 4 + b" 3 3 m 3 3 l S" + line + b" ")
    table = found.table()
    assert len(table.closed) == 6
    assert not table.closed.any()
    assert table.start.tolist() == [0, 1, 2, 3, 4, 5, 6]
    assert len(found.drawn.collector.contexts) == 1
    assert found.drawn.collector.item_name == [f"path {k}" for k in range(1, 7)]


def test_marks_end_with_their_stream() -> None:
    found = painted(b"/A BMC /B BMC 0 0 m 1 1 l S")
    assert found._marks == []
    # and no stream ends what was opened around it
    found.mark(None)
    found.run(b"EMC /A BMC EMC EMC", Dictionary(), State(affine.IDENTITY), ())
    assert len(found._marks) == 1
    found.unmark()
    found.unmark()
    assert found._marks == []


def test_each_mixed_colour_counts_once_as_many_operators() -> None:
    ink = Dictionary(FunctionType=2, Domain=Array([0, 1]), N=1)
    spaces = {
        "/ColorSpace": Dictionary(
            A=Array([Name.Separation, Name.X, Name.DeviceGray, ink]),
            B=Array([Name.Separation, Name.Y, Name.DeviceGray, Name.Identity]),
        )
    }
    # the first colour of each space is that of its whole ink; 1 is known, 0.2 is not
    data = b"/A cs 1 sc 0.2 sc 1 sc 0.2 SC /A CS 0.2 SC /B cs 0.2 scn 1 0 0 rg 0.5 g"
    followed, heard = run(data, spaces)
    assert heard.spent == 4 * 100
    assert (followed.state.stroke, followed.state.fill) == ("#333333", "#808080")
    # by a space whose mixture is not known, the more ink the darker
    followed, _ = run(b"/B cs 0.2 sc", spaces)
    assert followed.state.fill == "#cccccc"


HIDES = b"/OC /Off BDC 0 0 m 9 9 l S /OC /On BDC 0 0 9 9 re f EMC "
SEVERAL = b"0 0 m 8 8 l S" + b" 1 1 m 2 2 l S" * 4 + b" EMC 0 0 m 7 7 l S"


def test_what_is_hidden_is_counted_by_its_layer() -> None:
    with pikepdf.new() as pdf:
        on, off = (
            pdf.make_indirect(Dictionary(Type=Name.OCG, Name=name))
            for name in ("On", "Off")
        )
        found = painter(
            Layers(off={off.objgen}, names={on.objgen: "On", off.objgen: "Off"})
        )
        resources = Dictionary(Properties=Dictionary(On=on, Off=off))
        found.run(HIDES + SEVERAL, resources, State(affine.IDENTITY), ())
        # a line, a square, a line, and four at once; what follows is seen
        assert found.hidden == {"Off": 7}
        assert found.table().data[:, :4].tolist() == [[0, 0, 7, 7]]


@pytest.mark.parametrize(("curves", "refused"), [(6, False), (5, True)])
@pytest.mark.parametrize(
    "data", [b"0 0 m 1 1 l S 0 0 4 4 re f 0 0 m 1 1 l S", SEVERAL.replace(b"EMC", b"")]
)
def test_a_page_has_so_many_curves(data, curves, refused) -> None:
    if refused:
        with pytest.raises(ReadError, match="more than 5 lines, arcs and curves"):
            painted(data, curves=curves)
    else:
        assert len(painted(data, curves=curves).kinds) == 6


@pytest.mark.parametrize(("clips", "refused"), [(2, False), (1, True)])
def test_a_page_has_so_many_clips(clips, refused) -> None:
    # the same clip again is the one that there is
    data = b"q 0 0 5 5 re W n Q q 0 0 5 5 re W n Q q 0 0 m 5 5 l 5 0 l W n Q "
    if refused:
        with pytest.raises(ReadError, match="more than 1 clips"):
            painted(data * 3, copies=clips)
    else:
        assert len(painted(data * 3, copies=clips).drawn.clips) == 2


def test_clips_of_the_same_lines_in_other_outlines_are_others() -> None:
    # two lines that meet, as one outline of three corners and as two of none
    one = b"q 0 0 m 9 0 l 9 9 l W n 0 0 m 5 5 l S Q "
    two = b"q 0 0 m 9 0 l 9 0 m 9 9 l W n 0 0 m 5 5 l S Q "
    for data, outlines in ((one + two + one, [1, 2]), (two + one + two, [2, 1])):
        clips = painted(data).drawn.clips
        assert [clip.shape.loop.max() + 1 for clip in clips] == outlines


@pytest.mark.parametrize(
    ("second", "box", "parent"),
    [
        (b"5 5 20 20 re", (5, 5, 5, 15), -1),
        (b"-5 2 8 3 re", (0, 2, 3, 3), -1),
        (b"10 0 5 5 re", (10, 0, 5, 5), 0),  # beside it: both count
        (b"1 0 0 1 2 3 cm 0 0 4 4 re", (0, 0, 4, 4), 0),  # in units of its own
    ],
)
def test_two_boxes_leave_a_box(second, box, parent) -> None:
    found = painted(b"0 0 10 20 re W n " + second + b" W n 0 0 m 9 9 l S")
    clip = found.drawn.clips[-1]
    assert (clip.box, clip.parent) == (box, parent)
    assert found.drawn.collector.contexts[0].clip == len(found.drawn.clips) - 1


def test_a_shading_fills_the_innermost_clip() -> None:
    shading = Dictionary(ShadingType=2, Extend=Array([True, True]))
    resources = Dictionary(Shading=Dictionary(A=shading))
    found = painter()
    data = b"0 0 50 50 re W n 2 0 0 2 0 0 cm 1 1 9 9 re W n 3 0 0 3 0 0 cm /A sh"
    found.run(data, resources, State(affine.IDENTITY), ())
    (context,) = found.drawn.collector.contexts
    # its outline is that of the clip, in the units in which that was made
    assert (context.matrix, context.clip) == ((2, 0, 0, 2, 0, 0), 0)
    assert (context.gradient, context.covers, context.filled) == (True, True, True)
    assert found.table().data[0, :4].tolist() == [1, 1, 10, 1]
    found = painter()
    found.run(b"/A sh", resources, State(affine.IDENTITY), ())
    assert found.drawn.counts == {"shading": 1}
