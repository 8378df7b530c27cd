"""Drawings, kinds and palettes made by hand, for tests of colouring."""

from __future__ import annotations

import itertools
from typing import TYPE_CHECKING

import numpy as np

from fillwork.arrangement.build import build_arrangement
from fillwork.arrangement.model import Arrangement
from fillwork.colouring.difference import oklab_to_oklch, srgb_to_lab, srgb_to_oklab
from fillwork.colouring.model import Adjacency
from fillwork.colouring.palettes.model import Palette, Swatch
from fillwork.colouring.search.bonds import Bond
from fillwork.colouring.search.improve import Fence
from fillwork.colouring.search.taste import Taste
from fillwork.geometry.curves import Curves
from fillwork.linework import Frame
from fillwork.symmetry.model import Group, Orbit, Orbits, Symmetry, Zone
from fillwork.tolerance import Tolerance
from tests.unit.helpers import linework_from_segments

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

    from numpy.typing import ArrayLike

_ZONES, _HUES = 3, 3

NONE = Symmetry(Group("none", "none", "none", "", "C1"))


def drawing(
    segments: ArrayLike, width: float = 100.0, height: float = 100.0, **options: str
) -> Arrangement:
    """Return the regions of straight lines."""
    return build_arrangement(linework_from_segments(segments, width, height), **options)


def grid(columns: int, rows: int, side: float = 10.0) -> Arrangement:
    """Return squares in columns and rows, from the origin."""
    lines = [
        (x * side, y * side, (x + 1) * side, y * side)
        for x in range(columns)
        for y in range(rows + 1)
    ]
    lines += [
        (x * side, y * side, x * side, (y + 1) * side)
        for x in range(columns + 1)
        for y in range(rows)
    ]
    return drawing(lines, columns * side, rows * side)


def letters(count: int) -> list[str]:
    out = []
    for number in range(count):
        text, n = "", number
        while True:
            text = chr(65 + n % 26) + text
            n = n // 26 - 1
            if n < 0:
                break
        out.append(text)
    return out


def kinds(
    arrangement: Arrangement,
    of_face: Sequence[int] | np.ndarray,
    *,
    names: Sequence[str] = (),
    turns: np.ndarray | None = None,
    shifts: np.ndarray | None = None,
    symmetry: Symmetry = NONE,
) -> Orbits:
    """Return kinds stated face by face; the first entry is for face 0."""
    of_face = np.asarray(of_face, np.int32).copy()
    of_face[0] = -1
    count = int(of_face.max()) + 1
    orbits = []
    for row, letter in enumerate(letters(count)):
        faces = np.flatnonzero(of_face == row).astype(np.int32)
        name = names[row] if row < len(names) else f"shape {letter}"
        area = float(arrangement.area[faces].max())
        orbits.append(
            Orbit(
                letter,
                name,
                name.rstrip(" 123"),
                1,
                faces,
                int(faces[0]),
                "C1",
                area,
                0,
            )
        )
    everything = np.arange(1, arrangement.face_count, dtype=np.int32)
    own = np.arange(arrangement.face_count, dtype=np.int32)
    return Orbits(
        orbits=tuple(orbits),
        of_face=of_face,
        turns_of_face=of_face.copy() if turns is None else turns,
        shifts_of_face=own if shifts is None else shifts,
        operation_of_face=np.full(len(of_face), -1, np.int32),
        cut=np.zeros(len(of_face), bool),
        match="all",
        zones=(Zone(1, everything, symmetry),),
    )


def graph(
    count: int, pairs: Iterable[tuple[int, int]], lengths: Sequence[float] | None = None
) -> tuple[Arrangement, Orbits, Adjacency]:
    """Return kinds of one face each that touch as a graph says.

    The graph need not be planar; there are no edges to draw.
    """
    links = np.array(sorted(pairs), np.int32).reshape(-1, 2)
    shared = np.ones(len(links)) if lengths is None else np.asarray(lengths, float)
    area = np.r_[0.0, np.linspace(2.0, 1.0, count)]
    nothing = np.empty(0, np.int32)
    arrangement = Arrangement(
        vertices=np.empty((0, 2)),
        origin=nothing,
        next=nothing,
        face=nothing,
        edge_curve=nothing,
        edge_span=np.empty((0, 2)),
        source_start=np.zeros(1, np.int32),
        source_curve=nothing,
        ring_start=np.zeros(1, np.int64),
        ring_half_edge=nothing,
        face_ring_start=np.zeros(count + 2, np.int64),
        area=area,
        inside=(
            np.stack([np.arange(count + 1.0), np.zeros(count + 1)], axis=1),
            np.ones(count + 1),
        ),
        cut=np.zeros(count + 1, bool),
        curves=Curves.empty(),
        page_curves=0,
        curve_stroke=nothing,
        loose=Curves.empty(),
        components=0,
        area_difference=0.0,
        frame=Frame(100.0, 100.0, (1.0, 0.0, 0.0, 1.0, 0.0, 0.0)),
        tolerance=Tolerance(0.01, 0.1, 0.01),
    )
    orbits = kinds(arrangement, np.arange(-1, count))
    adjacency = Adjacency(
        pairs=links,
        shared=shared,
        corner_only=np.zeros(len(links), bool),
        self_adjacent=nothing,
        area=area[1:],
        face_pairs=links + 1,
        face_shared=shared,
        face_corners=np.empty((0, 2), np.int32),
    )
    return arrangement, orbits, adjacency


def palette(
    *hexes: str,
    names: Sequence[str] = (),
    roles: Sequence[str] = (),
    shares: Sequence[float | None] = (),
) -> Palette:
    """Return a palette of sRGB colours, named ``one``, ``two``, ... by default."""
    plain = ["one", "two", "three", "four", "five", "six"]
    plain += [f"swatch {k}" for k in range(7, 65)]
    swatches = []
    for k, text in enumerate(hexes):
        rgb = np.array([int(text[i : i + 2], 16) / 255 for i in (1, 3, 5)])
        swatches.append(
            Swatch(
                name=names[k] if k < len(names) else plain[k],
                code=str(k + 1),
                hex=text,
                oklch=tuple(np.nan_to_num(oklab_to_oklch(srgb_to_oklab(rgb))).tolist()),
                lab=tuple(srgb_to_lab(rgb).tolist()),
                role=roles[k] if k < len(roles) else "",
                share=shares[k] if k < len(shares) else None,
            )
        )
    return Palette("Made up for tests", tuple(swatches))


def random_palette(count: int, seed: int) -> Palette:
    rng = np.random.default_rng(seed)
    codes = [bytes(rng.integers(0, 256, 3).tolist()).hex() for _ in range(count)]
    return palette(*[f"#{code}" for code in codes])


def pick_pairs(rng: np.random.Generator, classes: int, number: int) -> np.ndarray:
    """Return so many pairs of classes at most, by chance, (n, 2)."""
    every = np.array(list(itertools.combinations(range(classes), 2)))
    return every[rng.choice(len(every), min(number, len(every)), replace=False)]


def state_wishes(
    seed: int, classes: int, swatches: int
) -> tuple[Taste, Fence, np.ndarray]:
    """Return random wishes and walls round a random assignment that they allow."""
    rng = np.random.default_rng(seed)
    x = rng.integers(0, swatches, classes)
    shape = (swatches, swatches)
    apart = rng.random(shape) < 0.6
    apart = (apart | apart.T) & ~np.eye(swatches, dtype=bool)
    unlike = ~np.eye(swatches, dtype=bool)
    links, plain = pick_pairs(rng, classes, 20), pick_pairs(rng, classes, 6)
    links = links[apart[x[links[:, 0]], x[links[:, 1]]]]
    plain = plain[unlike[x[plain[:, 0]], x[plain[:, 1]]]]
    allowed = rng.random((classes, swatches)) < 0.8
    allowed[np.arange(classes), x] = True
    bonds = []
    for rule, number in (("one", 9), ("two", 5)):
        gain = rng.random(shape)
        pairs = pick_pairs(rng, classes, number)
        bonds.append(Bond(rule, pairs, rng.random(len(pairs)), gain + gain.T))
    area = rng.random(classes)
    tone = np.triu(rng.random(shape), 1)
    hue = np.array([0, 0, 1, 2, _HUES, _HUES])[:swatches]
    taste = Taste(
        area=area / area.sum(),
        cost=rng.normal(size=(classes, swatches)),
        bonds=tuple(bonds),
        target=rng.random(swatches) / swatches,
        strength=rng.random(swatches),
        used_gain=rng.normal(size=swatches),
        near=tone + tone.T,
        tone=tone + tone.T,
        zone=rng.integers(0, _ZONES, classes),
        hue=hue,
        hues_cost=rng.random((_ZONES, _HUES + 2)),
    )
    most = len(np.unique(x)) if seed % 2 else None
    return taste, Fence(allowed, links, plain, apart, unlike, most), x
