"""Chains joined smoothly through nodes into strands."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from fillwork.readers.scan.circles import fit_circle, fit_line, misses, stray, unit
from fillwork.readers.scan.model import Strand

if TYPE_CHECKING:
    from fillwork.arrays import Floats
    from fillwork.readers.scan.model import Chain, Network


# Ends that miss being one straight line by less than this go on into each other.
_SMOOTH = np.radians(27.0)
_LONGEST_STEM = 16.0


def _outward(chain: Chain, end: int) -> Floats:
    """Return the chain's points from that end on."""
    return chain.points if end == 0 else chain.points[::-1]


def _beyond(chain: Chain, end: int, start: float, stop: float) -> Floats:
    """Return points whose distance along the chain lies between two lengths."""
    points = _outward(chain, end)
    step = np.diff(points, axis=0)
    along = np.r_[0.0, np.cumsum(np.hypot(*step.T))]
    if along[-1] < 2.0 * start:
        start = 0.35 * along[-1]
    chosen = points[(along >= start) & (along <= stop)]
    return chosen if len(chosen) > 1 else points


def _direction(network: Network, index: int, end: int) -> Floats:
    width = network.width
    points = _beyond(network.chains[index], end, 1.0 * width, 4.5 * width)
    if len(points) < 2:
        return unit(points[0] - network.nodes[network.chains[index].ends[end]])
    way = fit_line(points)[2:]
    return way if way @ (points[-1] - points[0]) >= 0 else -way


def open_stems(network: Network) -> int:
    """Make one node of two forks whose lines cross or touch at a small angle.

    How many stems were taken out. `network`: changed in place: a *stem*, where the ink
    of two lines ran together, is taken out and its two forks become one node.
    """
    order = sorted(range(len(network.chains)), key=lambda c: network.chains[c].length)
    gone: set[int] = set()
    at = network.at_node()
    for index in order:
        stem = network.chains[index]
        a, b = stem.ends
        if a < 0 or a == b or stem.length > _LONGEST_STEM * network.width:
            continue
        if len(at[a]) != 3 or len(at[b]) != 3:
            continue
        one = [m for m in at[a] if m[0] != index]
        two = [m for m in at[b] if m[0] != index]
        if len({c for c, _ in one + two}) < 3 or not _crossing(network, stem, one, two):
            continue
        gone.add(index)
        network.nodes[a] = stem.points[len(stem.points) // 2].copy()
        for c, end in two:
            ends = list(network.chains[c].ends)
            ends[end] = a
            network.chains[c].ends = (ends[0], ends[1])
        at[a] = one + two
        at[b] = []
    network.chains = [c for k, c in enumerate(network.chains) if k not in gone]
    return len(gone)


def _crossing(
    network: Network,
    stem: Chain,
    one: list[tuple[int, int]],
    two: list[tuple[int, int]],
) -> bool:
    """Tell whether two smooth lines run along the stem, one from each fork's end."""
    width = network.width
    stop = max(7.0 * width, 1.2 * stem.length)
    least = 0.12 * width + 0.25
    for pairing in (((0, 0), (1, 1)), ((0, 1), (1, 0))):
        for i, j in pairing:
            (c, e), (d, f) = one[i], two[j]
            start = 1.2 * width
            p = _beyond(network.chains[c], e, start, start + stop)
            q = _beyond(network.chains[d], f, start, start + stop)
            if min(len(p), len(q)) < max(4, width):
                break
            # the two ends must lie on both sides of the stem
            along = stem.points[-1] - stem.points[0]
            if (p[-1] - p[0]) @ along > 0 or (q[-1] - q[0]) @ along < 0:
                break
            both = np.vstack([p, q])
            carrier = fit_line(both)
            if stray(both, carrier) > least:
                circle = fit_circle(both)
                if circle is None or circle[2] < 4 * width:
                    break
                carrier = circle
                if stray(both, carrier) > least:
                    break
            if np.abs(misses(stem.points, carrier)).max() > 0.7 * width:
                break
        else:
            return True
    return False


def _stray(network: Network, one: tuple[int, int], two: tuple[int, int]) -> float:
    """Return how far two chains' ends stray from one circle or line, px."""
    width = network.width
    parts = []
    for c, e in (one, two):
        points = _beyond(network.chains[c], e, 1.5 * width, 12.0 * width)
        parts.append(points[:: max(1, len(points) // 40)])
    both = np.vstack(parts)
    circle = fit_circle(both)
    least = stray(both, fit_line(both))
    if circle is None or circle[2] <= 3 * width:
        return least
    return min(least, stray(both, circle))


def build_strands(network: Network) -> list[Strand]:
    """Return the strands of a network."""
    onward: dict[tuple[int, int], tuple[int, int]] = {}
    for met in network.at_node().values():
        ways = [_direction(network, c, e) for c, e in met]
        pairs = []
        for i in range(len(met)):
            for j in range(i):
                bend = np.arccos(np.clip(-(ways[i] @ ways[j]), -1, 1))
                if bend < 1.7 * _SMOOTH:
                    pairs.append((float(bend), i, j))
        ends = [k for _, i, j in pairs for k in (i, j)]
        if len(set(ends)) < len(ends):
            # several ways on: the one whose points lie best on one circle
            pairs = [(_stray(network, met[i], met[j]), i, j) for _, i, j in pairs]
            most = 0.25 * network.width + 0.3
            pairs = [p for p in pairs if p[0] < most]
        else:
            pairs = [p for p in pairs if p[0] < _SMOOTH]
        taken: set[int] = set()
        for _, i, j in sorted(pairs):
            if i not in taken and j not in taken:
                taken |= {i, j}
                onward[met[i]], onward[met[j]] = met[j], met[i]
    done: set[int] = set()
    strands = []
    for index in range(len(network.chains)):
        if index in done:
            continue
        first = (index, 0)
        while first in onward:
            c, e = onward[first]
            if c == index:
                # once around
                first = (index, 0)
                break
            first = (c, 1 - e)
        strands.append(_follow(network, onward, first, done))
    return strands


def _follow(
    network: Network,
    onward: dict[tuple[int, int], tuple[int, int]],
    first: tuple[int, int],
    done: set[int],
) -> Strand:
    parts, weights = [], []
    stops: list[tuple[int, int]] = []
    count = 0
    here: tuple[int, int] | None = first
    while here is not None and here[0] not in done:
        index, end = here
        chain = network.chains[index]
        done.add(index)
        points = _outward(chain, end)
        if chain.ends[end] < 0:
            return Strand(points[:-1], np.ones(len(points) - 1), [], True)
        stops.append((count, chain.ends[end]))
        parts.append(points)
        weights.append(_weights(points, network, chain))
        count += len(points)
        here = onward.get((index, 1 - end))
    if here != first:
        stops.append((count - 1, chain.ends[1 - end]))
    return Strand(np.vstack(parts), np.concatenate(weights), stops, here == first)


def _weights(points: Floats, network: Network, chain: Chain) -> Floats:
    """Return 0 near a node where lines meet: there the skeleton is bent."""
    weight = np.ones(len(points))
    bent = 0.9 * network.width
    for node in chain.ends:
        weight[np.hypot(*(points - network.nodes[node]).T) < bent] = 0.0
    if weight.sum() < 3:
        weight[len(points) // 4 : max(len(points) // 4 + 1, 3 * len(points) // 4)] = 0.3
    return weight
