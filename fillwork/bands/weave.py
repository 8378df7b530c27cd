"""Plain lines woven: each line becomes a band that passes over and under."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from fillwork.bands.cut import CutBands
from fillwork.bands.levels import choose_levels
from fillwork.bands.model import CORNERS, CROSSINGS, NODES, Woven
from fillwork.bands.rings import add_rings
from fillwork.bands.room import NARROWEST, Fault, find_fault, least_room, rails_lost
from fillwork.bands.strands import follow_strands, gather_lines
from fillwork.errors import LineWorkError
from fillwork.units import plain

if TYPE_CHECKING:
    from fillwork.arrangement.model import Arrangement
    from fillwork.bands.strands import Strands
    from fillwork.linework import Frame

# the widest band is sought to this factor, from the first guess down by `_SPREAD` and
# up in steps of `_STEP` at most
_EXACT, _SPREAD, _STEP, _TRIES = 1.01, 1e4, 4.0, 40
# crossings up to which it is sought where bands fit
_MOST_MEASURED = 20_000


def weave_lines(
    arrangement: Arrangement,
    width: float,
    *,
    gap: float = 0.0,
    start: str = "over",
    corners: str = "mitre",
    crossings: str = "woven",
    nodes: str = "piled",
    measure_room: bool = False,
) -> Woven:
    """Turn each line of a drawing into a band.

    `arrangement`: the drawing; its lines are the middles of the bands. `width`: width
    of the bands, mm. `gap`: left free beside the band that is over, mm. `start`:
    ``over`` or ``under``: the other way round everywhere. `corners`: ``mitre`` or
    ``round``. `crossings`: ``woven``: over and under in turn; ``crossed``: all rails
    run through; ``open``: no rail runs through another band. `nodes`: where three lines
    or more meet in a point, or over and under cannot take turns: ``piled``: bands lie
    on each other by direction; ``plain``: no rail runs through another band there;
    ``ring``: plain, with a ring woven round each point of three lines or more.
    `measure_room`: find out how wide bands may be, up to 20,000 crossings. It takes as
    long as weaving a few times. Raises `LineWorkError` if the drawing has no lines, or
    the bands are wider than there is room for. Raises `ValueError` if a word is not
    known or a length makes no sense.
    """
    if (
        corners not in CORNERS
        or crossings not in CROSSINGS
        or nodes not in NODES
        or start not in ("over", "under")
    ):
        what = f"no such way to weave: {corners!r}, {crossings!r}, {nodes!r}, {start!r}"
        raise ValueError(what)
    if not 0 < width < np.inf or not 0 <= gap < np.inf:
        what = f"a band {width!r} mm wide with a gap of {gap!r} mm cannot be drawn"
        raise ValueError(what)
    strands = follow_strands(gather_lines(arrangement))
    way = _Way(strands, arrangement.frame, gap, start, corners, crossings, nodes)
    worked, fault = way.cut(width)
    if fault is not None:
        raise way.refusal(width, fault)
    few = len(worked.levels.double) <= _MOST_MEASURED
    widest = way.widest(width) if measure_room and few else None
    return Woven(
        worked.strands, worked.levels, width, gap, *worked.draw(), nodes, widest
    )


@dataclass(frozen=True, slots=True, eq=False)
class _Way:
    """Hold how lines are woven, at whatever width."""

    strands: Strands
    page: Frame
    gap: float
    start: str
    corners: str
    crossings: str
    nodes: str

    def _open(self, width: float) -> CutBands:
        """Return bands with all crossings open."""
        strands = _with_page_frame(self.strands, self.page, width)
        levels = choose_levels(strands, start=self.start)
        if self.nodes == "ring":
            strands = follow_strands(add_rings(strands.lines, levels.piled, width))
            levels = choose_levels(strands, start=self.start)
        bands = CutBands(strands, levels, width / 2, 0.0, "open")
        bands.cut_rails(round_outside=False)
        return bands

    def cut(self, width: float) -> tuple[CutBands, Fault | None]:
        """Return bands of a width, and where they do not fit, if so."""
        ground = self._open(width)
        fault = find_fault(ground)
        if fault is not None:
            return ground, fault
        plain = self.nodes != "piled"
        worked = CutBands(
            ground.strands,
            ground.levels,
            width / 2,
            self.gap,
            self.crossings,
            plain=plain,
        )
        worked.cut_rails(round_outside=self.corners == "round")
        return worked, rails_lost(worked)

    def widest(self, width: float) -> float:
        """Return the greatest width that fits, to one part in a hundred.

        Three digits, tried as they stand; 0 if nothing fits, infinite if all does.

        `width`: to begin from, mm.
        """
        fits, fails = 0.0, np.inf
        least, most = width / _SPREAD, np.hypot(self.page.width, self.page.height)
        for _ in range(_TRIES):
            width = _three_digits(width)
            try:
                bands, fault = self.cut(width)
            except LineWorkError:  # no ring fits
                bands, fault = None, Fault((0.0, 0.0), np.inf)
            if bands is None or fault is not None:
                fails, hint = width, fault.width if fault else np.inf
            else:
                fits, hint = width, min(least_room(bands), _STEP * width)
            if fits > most:
                return np.inf
            if fails <= _EXACT * fits or fails < least:
                break
            low, high = _EXACT * fits, min(fails, _STEP * fits if fits else np.inf)
            if hint <= low:
                # there is hardly more room, or another place has less
                width = 1.5 * low - 0.5 * fits if np.isinf(fails) else low
            elif hint < fails:
                width = hint
            else:
                width = (fits + high) / 2
        return fits

    def refusal(self, width: float, fault: Fault) -> LineWorkError:
        """Return what is said where bands do not fit."""
        room = self.widest(min(0.95 * width, fault.width))
        told, mend = "there is no room for bands here", "leave that line out"
        if room < NARROWEST and fault.overlap:
            told += ", however narrow: two lines run side by side, too near"
            mend = "draw these two lines as one or farther apart, or leave one out"
        elif room >= NARROWEST:
            told = f"there is room for {plain(room)} mm"
            mend = f"take a width up to {plain(room)} mm, or leave that line out"
        x, y = fault.at
        gap = f" with a gap of {plain(self.gap)} mm" if self.gap else ""
        what = f"bands {plain(width, 6)} mm wide{gap} do not fit: {told}"
        return LineWorkError(what, f"near ({x:.1f}, {y:.1f}) mm", mend)


def _three_digits(value: float) -> float:
    """Return a positive number cut down to three digits."""
    unit = 10.0 ** (np.floor(np.log10(value)) - 2)
    return float(f"{np.floor(value / unit + 1e-9) * unit:.3g}")


def _with_page_frame(strands: Strands, page: Frame, width: float) -> Strands:
    """Return strands in which a line along the page's edge is a border line.

    The page would cut half of a band off there.
    """
    point = strands.lines.vertices[strands.lines.origin].reshape(-1, 2, 2)
    far = np.array([page.width, page.height])
    # both ends of a piece by one side of the page
    near = np.concatenate([point, far - point], axis=2) <= width / 2
    along = (near[:, 0] & near[:, 1]).any(axis=1)
    inner = np.bincount(strands.of_piece, ~along, len(strands.strands))
    return replace(
        strands,
        strands=tuple(
            replace(s, border=s.border or (s.closed and not n))
            for s, n in zip(strands.strands, inner.tolist(), strict=True)
        ),
    )
