"""How often bands are right: a table of panels whose strands their graph tells.

    python -m tests.bench.bands [--seed 1] [--noise 0,0.005,0.01] [KIND ...]
    python -m tests.bench.bands --without [--seed 1]

Angle, width and size of each panel come from the seed; a panel has ground between all
its bands, as its graph tells. Each goes through the whole survey, kinds and all. A
*strand* is right when its regions are one strand and no other's; what the frame parts
is several, what only its middle leaves the panel in one or several, and crossings that
the frame cuts may be counted or not. The second command surveys and colours drawings
that have no bands.
"""

from __future__ import annotations

import argparse
import sys
import time
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
import shapely

from fillwork.pipeline.surveying import make_survey
from fillwork.plans.model import Plan
from tests.bench.strapwork import (
    Strapwork,
    circles_as_bands,
    crossing_places,
    middle_lines,
    near_panel,
    strapwork,
    svg_of_panel,
    truth_of_faces,
    within_panel,
)
from tests.bench.without_bands import drawings_without
from tests.reference.test_kinds_tilings import TILINGS

if TYPE_CHECKING:
    from fillwork.arrangement.model import Arrangement
    from fillwork.bands.model import Bands

KINDS = {
    "plain": {},
    "woven": {"woven": True},
    "gap": {"woven": True, "gap": 0.15},
    "wide gap": {"woven": True, "gap": 0.4},
    "middle line": {"lined": True},
    "middle line, woven": {"lined": True, "woven": True},
    "two widths": {"ratio": 0.6},
    "two widths, woven": {"ratio": 0.6, "woven": True},
    "two widths, middle line": {"ratio": 0.6, "lined": True},
    "two widths, middle line, woven": {"ratio": 0.6, "lined": True, "woven": True},
    "some lines": {"some": True},
    "some lines, woven": {"some": True, "woven": True},
    "curved": {"curved": True},
    "curved, woven": {"curved": True, "woven": True},
    "framed": {"border": 6.0},
    "framed, woven": {"border": 6.0, "woven": True},
    "page": {"frame": False},
    "page, woven": {"frame": False, "woven": True},
}

# what leaves a panel by more than so many widths and comes back is two strands
_FAR = 4.0


@dataclass
class Score:
    """Count what is there and what is right."""

    regions: int = 0
    found: int = 0
    false: int = 0
    known: int = 0
    strand: int = 0
    crossings: int = 0
    crossed: int = 0
    extra: int = 0
    strands: int = 0
    whole: int = 0
    panels: int = 0
    unseen: int = 0

    def add(self, other: Score) -> None:
        for name in self.__dataclass_fields__:
            setattr(self, name, getattr(self, name) + getattr(other, name))

    def row(self) -> str:
        def share(a: int, b: int) -> str:
            return f"{a:5}/{b:<5}{100 * a / max(b, 1):6.1f}%"

        return (
            f"{share(self.found, self.regions)} {self.false:4} "
            f"{share(self.strand, self.known)} {share(self.crossed, self.crossings)} "
            f"{self.extra:4} {share(self.whole, self.strands)} "
            f"{self.unseen:2}/{self.panels}"
        )


HEAD = (
    f"{'kind':31}{'noise':>6} {'regions':>17} {'false':>5} {'in their strand':>17} "
    f"{'crossings':>17} {'more':>4} {'strands':>17} unseen"
)


def room(middles: list[np.ndarray], side: float) -> float:
    """Return a width of bands that leaves ground in every mesh, mm."""
    lines = shapely.unary_union([shapely.LineString(m) for m in middles])
    panel = shapely.box(0, 0, side, side).buffer(15)
    meshes = list(shapely.polygonize(shapely.get_parts(lines)).geoms)
    meshes = [m for m in meshes if panel.contains(m)]
    radius = 0.5
    while radius < 4:
        for mesh in meshes:
            if shapely.get_num_geometries(mesh.buffer(-1.5 * radius)) != 1:
                return 2 * radius
            if mesh.buffer(-1.5 * radius).is_empty:
                return 2 * radius
        radius *= 1.1
    return 2 * radius


def panel(kind: str, name: str, noise: float, seed: int) -> Strapwork:
    """Return a panel of one kind, its measures drawn from the seed."""
    how = dict(KINDS[kind])
    rng = np.random.default_rng([seed, *kind.encode(), *name.encode()])
    side, edge = rng.uniform(85, 115), rng.uniform(17, 22)
    if how.pop("curved", False):
        return circles_as_bands(rng, side, jitter=noise, seed=seed, **how)
    for _ in range(100):
        angle = rng.uniform(42, 76)
        middles = middle_lines(name, edge, side, np.radians(angle))
        most = min(room(middles, side), 0.2 * edge)
        if most > 0.06 * edge:
            break
    width: float | tuple[float, ...] = most * rng.uniform(0.75, 1.0)
    ratio = how.pop("ratio", None)
    if ratio:
        width = (width, ratio * width)
    if how.pop("some", False):
        width = (width, 0.0, width)
    if "gap" in how:
        how["gap"] = how["gap"] * float(np.max(width))
    return strapwork(
        name,
        edge=edge,
        side=side,
        angle=angle,
        width=width,
        jitter=noise,
        seed=seed,
        **how,
    )


def score(work: Strapwork) -> Score:
    """Return what a survey finds in a panel."""
    survey = make_survey(svg_of_panel(work), Plan())
    return judge(work, survey.arrangement, survey.bands)


def judge(work: Strapwork, regions: Arrangement, bands: Bands | None) -> Score:
    """Return how much of what was found in a panel is right."""
    size = work.side + 2 * work.margin
    polygons = shapely.transform(
        regions.polygons(valid=True),
        lambda p: np.column_stack([p[:, 0], size - p[:, 1]]) - work.margin,
    )
    work = near_panel(work, _FAR * float(work.widths.max()))
    true, whose = truth_of_faces(work, polygons)
    places = crossing_places(work)
    cut = len(places)
    drawn = work.middles
    work, origin, onward = within_panel(work)
    cut -= work.crossings
    # scraps smaller than a twentieth of a square over a band are nobody's
    scrap = shapely.area(polygons) < 0.05 * work.widths.max() ** 2
    # where the frame cuts a strand aslant, its end is no right angle
    _, members = truth_of_faces(work, polygons, cap="square", most=0.2)
    members = [
        {part for part in parts if origin[part] in of_face}
        for parts, of_face in zip(members, whose, strict=True)
    ]
    single = np.array([len(of_face) == 1 for of_face in whose]) & ~scrap
    # nor is what lies where a strand crosses itself of one of its parts alone
    common = shapely.area(shapely.intersection(polygons, shapely.union_all(places)))
    single &= common < 0.5 * shapely.area(polygons)
    members = _joined_at_the_frame(work, members, onward, polygons, single)
    known = true & np.array([bool(m) for m in members])
    result = Score(
        regions=int(true.sum()),
        known=int(known.sum()),
        crossings=work.crossings,
        panels=1,
        unseen=1,
    )
    size = [shapely.LineString(m).length for m in work.middles]
    # what two cross in may go with either
    own: list[list[int]] = [[] for _ in size]
    for f in np.flatnonzero(single).tolist():
        if len(members[f]) == 1:
            own[min(members[f])].append(f)
    long = [
        s
        for s in range(len(size))
        if work.widths[s] and size[s] > 3 * work.widths[s] and own[s]
    ]
    result.strands = len(long)
    near = _in_sight_between(work, [drawn[k] for k in origin], onward)
    if bands is None:
        return result
    part, strand = bands.part[1:], bands.strand[1:]
    result.unseen = 0
    result.found = int((true & (part > 0)).sum())
    result.false = int((~true & (part > 0)).sum())
    # the strand of the graph that most regions of each found strand lie in
    for number in np.unique(strand[strand >= 0]).tolist():
        faces = np.flatnonzero(strand == number)
        votes = [m for f in faces for m in members[f]]
        if votes:
            most = np.bincount(votes).argmax()
            as_one = near[int(most)]
            result.strand += sum(bool(known[f] and as_one & members[f]) for f in faces)
    for s in long:
        names = {int(strand[f]) for f in own[s]}
        if len(names) == 1 and -1 not in names:
            others = np.flatnonzero(strand == names.pop())
            as_one = near[s]
            right = all(as_one & members[f] for f in others if known[f] and single[f])
            result.whole += right
        else:
            right = False
        if not right and "-v" in sys.argv:
            at = work.middles[s].round(1)
            print("     in parts:", at[0], at[len(at) // 2], at[-1], names)
    result.crossed = min(bands.crossings, work.crossings)
    result.extra = max(bands.crossings - work.crossings - cut, 0)
    return result


def _joined_at_the_frame(
    work: Strapwork,
    members: list[set[int]],
    onward: list[tuple[int, int]],
    polygons: np.ndarray,
    single: np.ndarray,
) -> list[set[int]]:
    """Return members in which a strand that leaves and enters by one region is one.

    Only its middle runs outside there; a part of its width stays in sight.
    """
    name = np.arange(len(work.middles))
    tree = shapely.STRtree(polygons)
    for one, other in onward:
        ends = [work.middles[one][-1], work.middles[other][0]]
        at, face = tree.query(shapely.points(ends), "dwithin", distance=1e-2)
        both = set(face[at == 0].tolist()) & set(face[at == 1].tolist())
        if any(single[f] and members[f] & {one, other} for f in both):
            name[name == name[other]] = name[one]
    return [{int(name[s]) for s in parts} for parts in members]


def _in_sight_between(
    work: Strapwork, drawn: list[np.ndarray], onward: list[tuple[int, int]]
) -> list[set[int]]:
    """Return parts of a strand that are one or several: only the middle leaves."""
    panel = shapely.box(0, 0, work.side, work.side)
    near = [{s} for s in range(len(work.middles))]
    for one, other in onward:
        spots = shapely.points([work.middles[one][-1], work.middles[other][0]])
        band = shapely.LineString(drawn[one]).buffer(
            work.widths[one] / 2, cap_style="flat", join_style="mitre", mitre_limit=20.0
        )
        seen = shapely.get_parts(band.intersection(panel))
        if any((shapely.distance(part, spots) < 1e-6).all() for part in seen):
            for a in near[one] | near[other]:
                near[a] = near[one] | near[other]
    return near


def table(kinds: list[str], noises: list[float], seed: int, names: list[str]) -> None:
    """Print a row a kind and noise."""
    print(HEAD, flush=True)
    for kind in kinds:
        for noise in noises:
            total = Score()
            for name in names:
                one = score(panel(kind, name, noise, seed))
                if "-v" in sys.argv:
                    print(f"   {name:28}{noise:6} {one.row()}", flush=True)
                total.add(one)
            print(f"{kind:31}{noise:6} {total.row()}", flush=True)


def without(seed: int) -> None:
    """Print which drawings without bands are taken for some."""
    from fillwork.pipeline.job import colour_drawing

    claimed = asked = count = 0
    begin = time.process_time()
    for name, drawn in drawings_without(seed):
        finish = colour_drawing(drawn, Plan(palette="quiet-earth"))
        count += 1
        if finish.survey.bands is not None:
            claimed += 1
            print(f"{name}: claimed", flush=True)
        elif any(n.type == "bands in doubt" for n in finish.survey.notes):
            asked += 1
            print(f"{name}: asked", flush=True)
    took = time.process_time() - begin
    print(f"{count} drawings, {claimed} claimed, {asked} asked, {took:.0f} s of CPU")


if __name__ == "__main__":
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("kinds", nargs="*", default=list(KINDS))
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--noise", default="0,0.005,0.01")
    parser.add_argument("--tilings", default=";".join(TILINGS))
    parser.add_argument("--without", action="store_true")
    parser.add_argument("-v", action="store_true")
    given = parser.parse_args()
    if given.without:
        without(given.seed)
    else:
        noises = [float(v) for v in given.noise.split(",")]
        table(given.kinds, noises, given.seed, given.tilings.split(";"))
