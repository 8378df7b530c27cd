import itertools
import random
from dataclasses import replace

import pytest

from fillwork.colouring.model import Rules
from fillwork.colouring.palettes.file import parse_palette, read_palette
from fillwork.plans.amounts import Amounts
from fillwork.plans.media import is_transparent
from fillwork.plans.model import PaintSettings
from fillwork.plans.order import find_steps
from fillwork.plans.paint_order import paints_of_bands
from fillwork.plans.schedule import make_schedule
from tests.unit.plans.boards import board, colour_board, orbits_of


def steps_of(palette, swatches, kinds=None, *, ground=None, banded="", **wishes):
    """Return steps for a row of squares; kinds by face, swatch by kind."""
    kinds = list(range(len(swatches))) if kinds is None else kinds
    rules = {k: wishes.pop(k) for k in ("bare", "outline") if k in wishes}
    squares, orbits = banded_board(kinds, banded)
    colouring, adjacency = colour_board(
        squares, orbits, palette, swatches, Rules(**rules), ground=ground
    )
    settings = PaintSettings(**{"primer": "none", "varnish": "none", **wishes})
    return find_steps(
        Amounts(squares, orbits, adjacency, colouring, settings, 1.0, None)
    )


def names(palette, steps):
    return [palette.swatches[s.swatch].name for s in steps if s.swatch is not None]


def test_each_paint_once_and_the_ground_first():
    palette = read_palette("quiet-earth")
    steps = steps_of(palette, [3, 8, 0, 5, 9])
    assert [s.order for s in steps] == [1, 2, 3, 4, 5]
    assert names(palette, steps)[0] == "lime white"
    assert sorted(s.swatch for s in steps) == [0, 3, 5, 8, 9]
    assert "ground" in steps[0].reason
    assert all(s.reason and s.text for s in steps)


def test_the_ground_of_the_colouring_wins():
    palette = read_palette("quiet-earth")
    steps = steps_of(palette, [3, 8, 0], ground=8)
    assert names(palette, steps)[0] == "evening blue"


def test_large_before_small():
    palette = read_palette("mill-stream")
    kinds = [0] * 2 + [1] * 9 + [2] * 4 + [3]
    steps = steps_of(palette, [0, 4, 2, 7], kinds)
    assert names(palette, steps) == ["mill white", "deep pool", "willow", "buttercup"]


def test_a_paint_of_twice_the_area_is_not_called_about_as_large():
    palette = read_palette("mill-stream")
    light, dark = 2, 4
    assert palette.swatches[light].lab[0] > palette.swatches[dark].lab[0]
    for wide, told in ((7, "within twice the area of deep pool (22 %)"),
                       (6, "about as large as deep pool (19 %)")):  # fmt: skip
        kinds = [0] * (27 - wide) + [2] * wide + [1] * 5
        steps = steps_of(palette, [0, dark, light], kinds)
        assert names(palette, steps) == ["mill white", "deep pool", "willow"]
        assert told in steps[2].reason


def test_transparent_light_before_dark():
    palette = read_palette("winter-orchard")
    steps = steps_of(palette, [4, 7, 1, 2, 5], [0] * 5 + [1] * 4 + [2, 3, 4])
    order = [palette.swatches[s.swatch].lab[0] for s in steps]
    assert order == sorted(order, reverse=True)
    assert "light to dark" in steps[0].reason


def test_colours_that_touch_do_not_follow_where_rank_allows():
    palette = parse_palette(
        "".join(
            f'[[paint]]\nname = "{n}"\ncolour = "{c}"\nopacity = "opaque"\n'
            for n, c in (("a", "#202020"), ("b", "#303030"), ("c", "#404040"))
        ).encode(),
        "p.toml",
    )
    # a touches b, b touches c; a and c do not touch
    steps = steps_of(palette, [0, 1, 2])
    assert names(palette, steps)[:2] == ["a", "c"]
    assert "does not touch a" in steps[1].reason
    assert "touches c: let that dry" in steps[2].reason


def test_leaf_by_its_method():
    tempera = read_palette("gilded-ceiling")
    steps = steps_of(tempera, [0, 2, 5], primer="gesso", outline="soot")
    assert [s.swatch for s in steps] == [None, 2, 0, 5, None]
    assert "bole" in steps[1].text
    acrylic = parse_palette(
        b"[[paint]]\nname='gold'\ncolour='#d4a73c'\nmedium='leaf'\n"
        b"[[paint]]\nname='blue'\ncolour='#1d2f66'\nmedium='acrylic'\n",
        "p.toml",
    )
    steps = steps_of(acrylic, [0, 1], varnish="varnish")
    assert [s.swatch for s in steps] == [1, 0, None]
    assert "oil size" in steps[1].text
    assert "go round gold" in steps[2].text


def test_coats_are_told_where_there_are_several():
    palette = parse_palette(
        b"[[paint]]\nname='wall'\ncolour='#eeeecc'\nmedium='acrylic'\ncoats=1\n"
        b"[[paint]]\nname='blue'\ncolour='#1d2f66'\nmedium='acrylic'\ncoats=3\n",
        "p.toml",
    )
    one, three = sorted(steps_of(palette, [0, 1]), key=lambda step: step.swatch)
    assert "in one coat" in one.text
    assert "between coats" not in one.text
    assert "in 3 coats" in three.text
    assert "between coats" in three.text


def test_the_first_paint_says_how_far_it_goes():
    """A hair under a painted line where there is one, over a drawn line where not."""
    palette = read_palette("quiet-earth")

    def first(**work):
        steps = steps_of(palette, [3, 8, 0], **work)
        return next(s.text for s in steps if s.kind == "fill")

    assert "under the outlines" in first(outline="soot")
    assert "outlines" not in first()
    assert "over the line" in first()
    assert "up to the line" in first(under=palette.swatches[8].name)
    glazes = read_palette("winter-orchard")
    (step, *_) = steps_of(glazes, [4, 7])
    assert "up to the line" in step.text  # an overlap of glazes is a dark seam


def test_outlines_last_and_varnish_over_all():
    palette = read_palette("salt-desert")
    steps = steps_of(palette, [0, 1], outline="night violet", varnish="varnish")
    assert steps[-2].swatch == 7
    assert steps[-2].orbits == ()
    assert steps[-1].swatch is None
    assert steps[-1].text.startswith("Varnish")


def test_bare_is_left():
    palette = read_palette("two-inks")
    steps = steps_of(palette, [0, 3], bare=("plain paper",))
    assert "unpainted" in steps[0].text
    assert names(palette, steps) == ["plain paper", "full blue"]


def test_kinds_of_a_step():
    palette = read_palette("quiet-earth")
    steps = steps_of(palette, [0, 8, 8])
    assert {s.swatch: s.orbits for s in steps} == {0: (0,), 8: (1, 2)}


@pytest.mark.parametrize(
    ("opacity", "medium", "expected"),
    [
        ("transparent", "oil", True),
        ("opaque", "watercolour", False),
        ("", "watercolour", True),
        ("", "gouache", False),
        ("", "pencil", True),
    ],
)
def test_transparency(opacity, medium, expected):
    text = f'[[paint]]\nname="a"\ncolour="red"\nmedium="{medium}"\n'
    text += f'opacity="{opacity}"\n' if opacity else ""
    palette = parse_palette(text.encode(), "p.toml")
    assert is_transparent(palette.swatches[0]) is expected


def banded_board(kinds, bands):
    """Return a row of squares, kinds by face; some kinds are of bands."""
    squares = board(len(kinds), 1)
    orbits = orbits_of(squares, kinds)
    told = [replace(o, band=o.letter in bands) for o in orbits.orbits]
    return squares, replace(orbits, orbits=tuple(told))


def test_paints_of_bands_are_those_with_more_area_there_by_hand():
    palette = read_palette("quiet-earth")
    # paint 0: two squares of bands and one beside; paint 1: one and one, which is no
    # more; paint 2: one of bands and two beside
    squares, orbits = banded_board([0, 0, 1, 2, 3, 4, 5, 5], "ACE")
    swatch = [0, 0, 1, 1, 2, 2]
    colouring, _ = colour_board(squares, orbits, palette, swatch, Rules())
    assert paints_of_bands(squares, orbits, colouring) == {0}
    squares, orbits = banded_board([0, 0, 1, 2, 3, 4, 5, 5], "")
    assert paints_of_bands(squares, orbits, colouring) == frozenset()


def test_bands_come_first_or_last_as_asked():
    palette = read_palette("quiet-earth")
    plain = names(palette, steps_of(palette, [3, 8, 0, 5]))
    banded = palette.swatches[5].name
    rest = [name for name in plain if name != banded]
    for when, wanted in (("first", [banded, *rest]), ("last", [*rest, banded])):
        # the fourth kind, D, is of bands
        steps = steps_of(palette, [3, 8, 0, 5], banded="D", bands=when)
        assert names(palette, steps) == wanted
        assert f"bands come {when}" in steps[wanted.index(banded)].reason


def test_nothing_is_painted_under_what_all_lies_bare() -> None:
    palette = read_palette("quiet-earth")
    ground, left = (palette.swatches[k].name for k in (0, 1))
    steps = steps_of(palette, [1, 1], bare=(left,), under=ground)
    assert [s.swatch for s in steps] == [1]


@pytest.mark.parametrize("seed", range(20))
def test_what_is_refused_lies_on_what_an_earlier_step_laid(seed) -> None:
    draw = random.Random(seed)
    media = ["acrylic", "oil"] * 3
    palette = parse_palette(
        "".join(
            f'[[paint]]\nname="p{k}"\ncolour="#{50 + 9 * k}5a70"\nmedium="{medium}"\n'
            for k, medium in enumerate(media)
        ).encode(),
        "p.toml",
    )
    kinds = [k for k in range(6) for _ in range(draw.randint(1, 4))]
    draw.shuffle(kinds)
    squares = board(len(kinds), 1)
    orbits = orbits_of(squares, kinds)
    colouring, adjacency = colour_board(squares, orbits, palette, list(range(6)))
    schedule = make_schedule(
        squares,
        orbits,
        adjacency,
        colouring,
        PaintSettings(tape=True),
        real_scale=1.0,
        scale_known=True,
    )
    fills = [s for s in schedule.steps if s.kind == "fill"]
    touch = {frozenset(pair) for pair in itertools.pairwise(kinds)}
    over = {
        later.swatch
        for k, later in enumerate(fills)
        for earlier in fills[:k]
        if (media[later.swatch], media[earlier.swatch]) == ("acrylic", "oil")
        and {later.swatch, earlier.swatch} in touch
    }
    refused = {s.swatch for s in fills if s.text.startswith("Refused")}
    assert refused <= over
    assert bool(refused) == bool(over)


def test_shares_are_of_what_shows():
    # a quarter each shows, of the ground under all as well
    palette = read_palette("quiet-earth")
    ground = palette.swatches[8].name
    for under in ("", ground):
        steps = steps_of(palette, [3, 8, 0, 5], under=under)
        told = [s.reason for s in steps if s.kind == "fill"]
        assert all("(25 %)" in reason for reason in told), told


@pytest.mark.parametrize("medium", ["tile", "thread", "paper"])
def test_what_is_set_in_pieces_has_none_of_the_reasons_of_paint(medium) -> None:
    paints = "".join(
        f'[[paint]]\nname="p{k}"\ncolour="#{90 + 30 * k:02x}5a70"\n'
        f'opacity="{opacity}"\n'
        for k, opacity in enumerate(["opaque", "transparent", "opaque", "opaque"])
    )
    palette = parse_palette(f'medium="{medium}"\n{paints}'.encode(), "p.toml")
    for ground in (None, 0):
        steps = steps_of(palette, [0, 1, 2, 3], ground=ground)
        told = " ".join(f"{s.text} {s.reason}" for s in steps)
        assert len(steps) == 4
        for word in ("paint", "dr", "transparent", "covers", "edge"):
            assert word not in told.replace("drawing", ""), word
    # beside paint it waits for the paint alone
    mixed = palette_with(palette, 0, medium="gouache")
    steps = steps_of(mixed, [0, 1, 2, 3], ground=0)
    assert [("p0" in s.reason, "p1 " in s.reason) for s in steps[1:]] == [
        (True, False)
    ] * 3


def palette_with(palette, place, **changes):
    swatches = list(palette.swatches)
    swatches[place] = replace(swatches[place], **changes)
    return replace(palette, swatches=tuple(swatches))
