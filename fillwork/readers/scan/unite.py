"""Pieces of one line or circle put on one carrier; like radii made equal."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from fillwork.readers.scan.circles import fit_circle, fit_line, misses

if TYPE_CHECKING:
    from fillwork.arrays import Floats
    from fillwork.readers.scan.model import Drawing, Piece


# Points that stand for a piece; shares of a piece near its ends, where the ink
# of other lines bends the skeleton.
_SAMPLE, _ENDS = 40, 8
# A carrier found from one piece alone misses another by more than both together.
_FIRST = 5.0
# Radii of one setting of the compass differ by less than this share.
_RADII = 0.02


def unite_carriers(drawing: Drawing, sigma: float) -> None:
    """Put pieces that lie on one line or circle on one carrier.

    Only where the common carrier lies within the hand's accuracy on each piece.

    `drawing`: changed in place. `sigma`: root mean square that a drawn line may stray,
    px.
    """
    most = max(sigma, 0.15 * drawing.width)
    for circle in (False, True):
        pieces = [p for p in drawing.pieces if p.circle == circle]
        groups = _groups(pieces, most)
        if circle:
            _equal_radii(groups, most)


def _groups(pieces: list[Piece], most: float) -> list[list[Piece]]:
    pieces = sorted(pieces, key=lambda p: -len(p.points))
    table = np.array([_sample(p) for p in pieces])
    loose = np.ones(len(pieces), bool)
    groups = []
    for first, head in enumerate(pieces):
        if not loose[first]:
            continue
        loose[first] = False
        off = _stray(table, head.carrier)
        near = np.flatnonzero(loose & (off < _FIRST * most))
        own = float(off[first])
        taken, carrier = [first], head.carrier
        while len(near):
            off = _stray(table[near], carrier)
            k = int(np.argmin(off))
            trial = [*taken, int(near[k])]
            near = np.delete(near, k)
            joined = _fitted([pieces[i] for i in trial], table[trial])
            if joined is None:
                continue
            if float(_stray(table[trial], joined).max()) < max(most, 1.1 * own):
                taken, carrier = trial, joined
        loose[taken] = False
        groups.append([pieces[i] for i in taken])
        for i in taken:
            pieces[i].carrier = carrier
    return groups


def _sample(piece: Piece) -> Floats:
    n = len(piece.points)
    inner = piece.points[n // _ENDS : max(n - n // _ENDS, n // _ENDS + 1)]
    at = np.linspace(0, len(inner) - 1, _SAMPLE).round().astype(int)
    chosen: Floats = inner[at]
    return chosen


def _stray(table: Floats, carrier: Floats) -> Floats:
    """Return the root mean square by which each row of places misses, px."""
    off = misses(table.reshape(-1, 2), carrier).reshape(table.shape[:-1])
    found: Floats = np.sqrt(np.mean(off**2, axis=-1))
    return found


def _fitted(pieces: list[Piece], table: Floats) -> Floats | None:
    weight = np.repeat([float(len(p.points)) for p in pieces], _SAMPLE) / _SAMPLE
    points = table.reshape(-1, 2)
    return fit_circle(points, weight) if pieces[0].circle else fit_line(points, weight)


def _equal_radii(groups: list[list[Piece]], most: float) -> None:
    """Give circles of nearly one radius that radius, where their ink allows it."""
    groups = sorted(groups, key=lambda g: float(g[0].carrier[2]))
    start = 0
    for stop in range(1, len(groups) + 1):
        least = float(groups[start][0].carrier[2])
        if stop < len(groups) and groups[stop][0].carrier[2] < least * (1 + _RADII):
            continue
        same = groups[start:stop]
        start = stop
        if len(same) < 2:
            continue
        weight = [sum(len(p.points) for p in g) for g in same]
        radius = float(np.average([g[0].carrier[2] for g in same], weights=weight))
        for group in same:
            table = np.array([_sample(p) for p in group])
            before = float(_stray(table, group[0].carrier).max())
            held = _held(table.reshape(-1, 2), group[0].carrier, radius)
            if float(_stray(table, held).max()) < max(most, 1.1 * before):
                for piece in group:
                    piece.carrier = held


def _held(points: Floats, circle: Floats, radius: float) -> Floats:
    """Return the circle of a given radius nearest to points."""
    # from where the arc keeps its place when its radius changes
    out = points.mean(axis=0) - circle[:2]
    long = float(np.hypot(*out))
    centre = circle[:2] + out * (1.0 - radius / float(circle[2])) * (long > 1e-6)
    for _ in range(8):
        off = points - centre
        far = np.maximum(np.hypot(off[:, 0], off[:, 1]), 1e-9)
        table = -off / far[:, None]
        centre = centre + np.linalg.lstsq(table, radius - far, rcond=None)[0]
    held: Floats = np.r_[centre, radius]
    return held
