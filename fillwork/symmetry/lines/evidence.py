"""Line work as evidence for symmetry: samples, window and nearest lines.

*Samples* are points spread evenly along the lines, each with the direction of
its line. The *window* is the part of the plane where the drawing would show a
line if there were one: the union of the faces. An operation is judged by the
images of samples that fall inside the window: each is *expected* to lie on a
line of like direction, and is *matched* if one is near enough.

Lines of a frame that cuts the pattern are no evidence for the pattern; nothing
is expected of them, though images may fall on them.

The *scale* is the median length of a line between two corners or crossings:
curves count whole, not by their chords, and splinters hardly count. Of curves it is no
more than the usual width of a region, so that long ones are not matched loosely.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from fillwork.symmetry.lines.near_lines import LineIndex
from fillwork.symmetry.lines.window import (
    FIGURES,
    Window,
    build_window,
    convex_hull,
    widen_window,
)

if TYPE_CHECKING:
    from fillwork.arrays import Bools, Floats, Ints

REACH = 0.16  # farthest miss that is measured, in scales
SAMPLES_PER_SCALE = 8
_CLOSE = 12_000  # samples among which small details are looked for
_CLOSE_PER_SCALE = 64
DEEPEST = 0.5  # depths in the window that are told apart, in scales
_INNER = 0.4  # share of the lines that must lie inside a frame to speak without it
_SPLINTERS = 0.15  # share of all length that splinters have at most
# how far lines turn from each other that run one way, and how far apart pieces of one
# line lie, in all of the width; gaps between lines from which they are stripes, and
# how much wider than others some are
_ASLANT, _SAME_LINE, _STRIPES, _UNLIKE = 0.02, 0.002, 4, 1.25
_RAILS = 8.0  # so many times the median count lines at most that are longer


@dataclass(frozen=True, slots=True, eq=False)
class Evidence:
    """Hold what a drawing's lines say about its symmetry."""

    segments: Floats  # (n, 4): all lines, curves as chords, mm
    lines: Floats  # (m, 4): those of them that are evidence
    # samples and directions, (s, 2): points of the latter, and unit vectors along
    samples: Floats
    directions: Floats
    piece: Ints  # (s,): the line between two corners that each sample lies on
    scale: float  # median length of a line between two corners, mm
    window: Window  # where lines are expected
    index: LineIndex  # finds lines near points
    corners: Floats  # (c, 2): ends of lines and crossings, mm
    # whether the lines stand on empty ground: nothing cuts them off, so that nothing is
    # hidden outside the window
    free: bool = False
    # (p, 4): parts of the boundary where the page's edge cuts the lines off, mm
    page: Floats | None = None
    # whether cells that lines left open at the page's edge were left out
    torn: bool = False
    # how far lines are known to be off, mm, though their repeats are off alike
    slip: float = 0.0

    def closely(self) -> tuple[Floats, Floats]:
        """Return samples close enough to tell small details apart.

        Returns `points` and `directions` (n, 2): points of the lines that are evidence,
        mm, and unit vectors along.
        """
        total = float(np.hypot(*(self.lines[:, 2:] - self.lines[:, :2]).T).sum())
        spacing = max(total / _CLOSE, self.scale / _CLOSE_PER_SCALE)
        if total < 2 * spacing * len(self.samples):
            rows = self.thin(_CLOSE)
            return self.samples[rows], self.directions[rows]
        points, owner = _sample(self.lines, spacing)
        step = self.lines[owner, 2:] - self.lines[owner, :2]
        return points, step / np.hypot(step[:, 0], step[:, 1])[:, None]

    def thin(self, most: int) -> Ints:
        """Return a fair choice of samples; rows of `samples`, ascending.

        `most`: how many at most.
        """
        count = len(self.samples)
        if count <= most:
            return np.arange(count)
        rng = np.random.default_rng(0)
        return np.sort(rng.permutation(count)[:most])

    def in_hull(self) -> Evidence:
        """Return the same lines, expected wherever figures have ground between them.

        All lines of figures that touch in points alone lie on the edge of what these
        cover, where none is expected; outlines on the hull count as well.
        """
        hull = convex_hull(self.segments.reshape(-1, 2))
        nothing = np.empty((0, 4))
        window = build_window(nothing, hull, DEEPEST * self.scale, FIGURES)
        return replace(self, window=widen_window(window, REACH * self.scale))


def are_unlike_stripes(evidence: Evidence) -> bool:
    """Tell whether all lines run one way, at unlike distances from each other.

    Any shift along them keeps such lines, so that they tell nothing of a lattice.
    """
    step = evidence.lines[:, 2:] - evidence.lines[:, :2]
    length = np.hypot(*step.T)
    along = step[np.argmax(length)] / length.max()
    across = np.array([-along[1], along[0]])
    if (np.abs(step @ across) > _ASLANT * length).any():
        return False
    # what ends inside is kept by no shift along it
    ends = evidence.lines.reshape(-1, 2)
    reach = _SAME_LINE * float(np.ptp(ends, axis=0).max())
    if (evidence.window.depth_at(ends) > reach).any():
        return False
    at = np.sort((evidence.lines[:, :2] + evidence.lines[:, 2:]) @ across / 2)
    gap = np.diff(at)
    gap = gap[gap > _SAME_LINE * np.ptp(at)]
    return len(gap) >= _STRIPES and bool(gap.max() > _UNLIKE * gap.min())


def _sample(segments: Floats, spacing: float) -> tuple[Floats, Ints]:
    """Return points at equal steps along segments laid end to end."""
    length = np.hypot(segments[:, 2] - segments[:, 0], segments[:, 3] - segments[:, 1])
    reach = np.cumsum(length)
    count = max(int(reach[-1] / spacing), 1)
    at = (np.arange(count) + 0.5) * (reach[-1] / count)
    owner = np.minimum(np.searchsorted(reach, at), len(segments) - 1)
    share = 1 - (reach[owner] - at) / length[owner]
    start, end = segments[owner, :2], segments[owner, 2:]
    return start + share[:, None] * (end - start), owner


def _scale_of(lengths: Floats) -> float:
    """Return the median length of lines, however many splinters are among them.

    Lines that nearly meet in one point part into splinters as soon as they are a
    little off; they hardly add to the length of all lines together. Lines that are
    very much longer than others, such as rails, count as moderately long.
    """
    ordered = np.sort(lengths)
    median = float(np.median(ordered))
    run = np.cumsum(np.minimum(ordered, _RAILS * median))
    return max(median, float(ordered[np.searchsorted(run, _SPLINTERS * run[-1])]))


def build_evidence(
    segments: Floats,
    piece: Ints,
    boundary: Floats,
    frame: Bools | None = None,
    *,
    free: bool = False,
    page: Floats | None = None,
    widest: float = np.inf,
    figures: int = FIGURES,
) -> Evidence:
    """Return the evidence of lines.

    `segments` (n, 4): x0 y0 x1 y1 of each straight line or chord, mm; at least one.
    `piece` (n,): number of the line between two corners that each belongs to.
    `boundary` (m, 4): closed boundary of the window, mm; empty for the convex hull.
    `frame` (n,): lines that bound the pattern and are no evidence for it. `free`:
    whether the lines stand on empty ground. `page` (p, 4): parts of the boundary that
    are the page's edge, mm. `widest`: largest scale, mm: that of long lines may be more
    than regions are wide. `figures`: parts of the window from which they may be figures
    on an empty ground.
    """
    length = np.hypot(segments[:, 2] - segments[:, 0], segments[:, 3] - segments[:, 1])
    pieces = np.bincount(piece, weights=length).astype(np.float64)
    scale = min(_scale_of(pieces[pieces > 0]), widest)
    use = np.ones(len(segments), bool)
    # in a small piece the frame is part of the figure: it tells how its lines turn
    if frame is not None and length[~frame].sum() > _INNER * length.sum():
        use = ~frame
    spacing = scale / SAMPLES_PER_SCALE
    total = float(length[use].sum())
    if total / spacing > 400_000:
        spacing = total / 400_000
    samples, owner = _sample(segments[use], spacing)
    delta = (segments[:, 2:] - segments[:, :2]) / length[:, None]
    hull = convex_hull(segments.reshape(-1, 2))
    if len(boundary):
        hull = convex_hull(np.concatenate([hull, boundary.reshape(-1, 2)]))
    ends = np.concatenate([segments[:, :2], segments[:, 2:]])
    change = np.ones(len(segments), bool)
    change[1:] = piece[1:] != piece[:-1]
    corner_rows = np.flatnonzero(change)
    corners = np.concatenate(
        [ends[corner_rows], segments[np.append(corner_rows[1:], len(piece)) - 1, 2:]]
    )
    return Evidence(
        segments=segments,
        lines=segments[use],
        samples=samples,
        directions=delta[use][owner],
        piece=piece[use][owner],
        scale=scale,
        window=build_window(boundary, hull, DEEPEST * scale, figures),
        index=LineIndex(segments, REACH * scale),
        corners=corners,
        free=free,
        page=page,
    )
