"""From the pen's pixels to a network of chains through the middle of its lines."""

from __future__ import annotations

from collections import Counter
from typing import TYPE_CHECKING, Literal

import numpy as np

from fillwork.readers.scan.model import Chain, Network
from fillwork.readers.scan.pixels import depth_at, patches, spans

if TYPE_CHECKING:
    from fillwork.arrays import AnyInts, Bools, Floats, Floats32, Ints32


# Widths from which on the middle of what sticks out of a line was perhaps drawn.
_STUB = 0.3
_AROUND = ((-1, -1), (-1, 0), (-1, 1), (0, -1), (0, 1), (1, -1), (1, 0), (1, 1))


def clean_mask(mask: Bools, scale: float) -> Bools:
    """Return the mask without specks and pinholes.

    `mask` (h, w): inked pixels. `scale`: px a mm. Returns (h, w): specks under 1 mm²
    that are no longer than 1.5 mm, and holes under 0.02 mm², are gone.
    """
    from scipy import ndimage

    labels, boxes = patches(mask)
    large = np.bincount(labels.ravel())[1:] > scale**2
    mask = np.r_[False, large | (spans(boxes) > 1.5 * scale)][labels]
    holes, count = ndimage.label(~mask)
    area = np.bincount(holes.ravel(), minlength=count + 1)
    small = area < 0.02 * scale**2
    small[0] = False
    result: Bools = mask | small[holes]
    return result


def build_network(mask: Bools, strength: Floats32) -> Network:
    """Return the network of the middle lines.

    Nodes and chains, spurs of the thinning taken off. `mask` (h, w): inked pixels,
    cleaned. `strength` (h, w): darkness, for places finer than a pixel.
    """
    from skimage.morphology import skeletonize

    thin: Bools = skeletonize(mask)  # type: ignore[no-untyped-call]
    width = float(mask.sum()) / max(1.0, 1.1 * float(thin.sum()))
    network = Network([], [], max(width, 1.5))
    _walk(thin, network)
    _contract_short(network)
    _drop_spurs(network)
    _contract_fused(network, mask)
    for chain in network.chains:
        chain.points = _refined(chain.points, strength, network.width)
    return network


def _neighbours(thin: Bools, rows: AnyInts, columns: AnyInts) -> Ints32:
    """Return which pixels lie around each, (n, 8); -1 for none."""
    number = np.full((thin.shape[0] + 2, thin.shape[1] + 2), -1, np.int32)
    number[rows + 1, columns + 1] = np.arange(len(rows))
    table = np.stack([number[rows + 1 + a, columns + 1 + b] for a, b in _AROUND], 1)
    # a diagonal step is none where two straight ones go round it
    for k, (a, b) in enumerate(_AROUND):
        if a and b:
            side = (number[rows + 1 + a, columns + 1] >= 0) | (
                number[rows + 1, columns + 1 + b] >= 0
            )
            table[side, k] = -1
    return table


def _followed(start: int, near: list[list[int]], used: bytearray) -> list[int]:
    """Return the pixels on from one, as far as a line goes; they are used then."""
    path: list[int] = []
    here: int | None = start
    while here is not None:
        used[here] = True
        path.append(here)
        # the pixel that stands for none is used
        here = next((m for m in near[here] if not used[m]), None)
    return path


def _walk(thin: Bools, network: Network) -> None:
    from scipy import ndimage

    rows, columns = np.nonzero(thin)
    table = _neighbours(thin, rows, columns)
    degree = (table >= 0).sum(1)
    fork = np.zeros(thin.shape, bool)
    many = degree >= 3
    fork[rows[many], columns[many]] = True
    clusters, count = ndimage.label(fork, np.ones((3, 3), bool))
    # the last one stands for the neighbour, -1, that is none
    cluster = np.append(clusters[rows, columns] - 1, -1)
    place = np.stack([columns, rows], 1).astype(np.float64)
    if count:
        own, number = place[many], cluster[:-1][many]
        size = np.bincount(number)
        middle = [np.bincount(number, own[:, k]) / size for k in (0, 1)]
        network.nodes.extend(np.stack(middle, 1))
    near = table.tolist()
    plain = cluster[:-1] < 0
    used = bytearray(np.append(~plain, True).tobytes())
    beside = np.flatnonzero(plain & (cluster[table] >= 0).any(axis=1)).tolist()
    starts = [(i, int(cluster[j])) for i in beside for j in near[i] if cluster[j] >= 0]
    for i in np.flatnonzero(plain & (degree <= 1)):
        network.nodes.append(place[i])
        starts.append((int(i), len(network.nodes) - 1))
    end_node = {s: n for s, n in starts if degree[s] <= 1}
    for start, node in starts:
        if used[start]:
            # a single pixel between two forks is met from both
            continue
        path = _followed(start, near, used)
        here = path[-1]
        forks = [int(cluster[m]) for m in near[here] if cluster[m] >= 0]
        if len(path) == 1:
            forks = [c for c in forks if c != node] or forks[1:]
        if forks:
            last = forks[-1]
        elif here in end_node and len(path) > 1:
            last = end_node[here]
        else:
            network.nodes.append(place[here])
            last = len(network.nodes) - 1
        network.chains.append(Chain(place[path], (node, last)))
    for begin in range(len(near)):
        path = [] if used[begin] else _followed(begin, near, used)
        if len(path) > 6:
            network.chains.append(Chain(place[[*path, path[0]]], (-1, -1)))


def _contract_short(network: Network) -> None:
    """Make one node of forks that only the pen's width holds apart."""
    into = list(range(len(network.nodes)))

    def root(n: int) -> int:
        while into[n] != n:
            into[n] = into[into[n]]
            n = into[n]
        return n

    ends = _degrees(network)
    kept = []
    for chain in network.chains:
        a, b = chain.ends
        short = chain.length < 0.9 * network.width
        if a >= 0 and a != b and short and ends[a] > 1 and ends[b] > 1:
            into[root(a)] = root(b)
        else:
            kept.append(chain)
    gathered: dict[int, list[Floats]] = {}
    for n, place in enumerate(network.nodes):
        gathered.setdefault(root(n), []).append(place)
    for n, places in gathered.items():
        network.nodes[n] = np.mean(places, axis=0)
    for chain in kept:
        a, b = chain.ends
        if a >= 0:
            chain.ends = (root(a), root(b))
    network.chains = _without_loops(kept, 2 * network.width)


def _without_loops(chains: list[Chain], least: float) -> list[Chain]:
    """Return chains without those, shorter than that, that come back to their node."""
    return [
        c for c in chains
        if c.ends[0] != c.ends[1] or c.ends[0] < 0 or c.length > least
    ]  # fmt: skip


def _contract_fused(network: Network, mask: Bools) -> None:
    """Make one node of forks between which the ink of two lines ran together.

    There the ink is wider than one line all the way, and widens from where they
    cross; a stroke that only falls on one more row of pixels is as wide throughout.
    """
    if not network.chains:
        return
    at = np.rint(np.vstack([c.points for c in network.chains])).astype(int)
    deep = depth_at(mask, at[:, 1], at[:, 0])
    stops = np.cumsum([len(c.points) for c in network.chains])
    wide = [np.percentile(own, (10, 25, 90)) for own in np.split(deep, stops)[:-1]]
    single = float(np.median([low for _, low, _ in wide]))
    ends = _degrees(network)
    fused = [
        c for c, (least, low, most) in zip(network.chains, wide, strict=True)
        if c.ends[0] >= 0 and c.ends[0] != c.ends[1]
        and c.length < 6.0 * network.width
        and ends[c.ends[0]] > 2 and ends[c.ends[1]] > 2
        and low > 1.18 * single and (most > 1.2 * least or low > 1.5 * single)
    ]  # fmt: skip
    for chain in sorted(fused, key=lambda c: c.length):
        a, b = chain.ends
        if a == b:
            continue
        if ends[a] < ends[b]:
            a, b = b, a
        if ends[a] == ends[b]:
            network.nodes[a] = chain.points[len(chain.points) // 2].copy()
        ends[a] += ends[b] - 2
        chain.ends = (-3, -3)
        for other in network.chains:
            if b in other.ends:
                p, q = other.ends
                other.ends = (a if p == b else p, a if q == b else q)
    kept = [c for c in network.chains if c.ends[0] != -3]
    network.chains = _without_loops(kept, 4 * network.width)


def _degrees(network: Network) -> Counter[int]:
    return Counter(n for chain in network.chains for n in chain.ends)


def _drop_spurs(network: Network) -> None:
    for _ in range(3):
        ends = _degrees(network)
        kept = []
        for chain in network.chains:
            a, b = chain.ends
            # in widths: what is no longer than a blot, by how many ends are free
            free = (ends[a] == 1) + (ends[b] == 1) if a >= 0 else 0
            if chain.length >= (0.0, 1.5, 3.0)[free] * network.width:
                kept.append(chain)
            elif free == 1 and chain.length > _STUB * network.width:
                foot, tip = (b, a) if ends[a] == 1 else (a, b)
                network.stubs.append((network.nodes[foot], network.nodes[tip]))
        changed = len(kept) < len(network.chains)
        network.chains = kept
        join_through(network)
        if not changed:
            return


def join_through(network: Network) -> None:
    """Join chains at nodes where only two ends meet. `network`: changed in place."""
    at = network.at_node()
    for met in at.values():
        if len(met) != 2:
            continue
        (i, a), (j, b) = met
        if i == j:
            # a loop that began at a node which is none any more
            points = network.chains[i].points
            closed = np.vstack([points, points[:1]])
            network.chains[i] = Chain(closed, (-1, -1))
            continue
        first, second = network.chains[i], network.chains[j]
        one = first.points if a == 1 else first.points[::-1]
        two = second.points if b == 0 else second.points[::-1]
        ends = (first.ends[1 - a], second.ends[1 - b])
        network.chains[i] = Chain(np.vstack([one, two]), ends)
        network.chains[j] = Chain(np.empty((0, 2)), (-2, -2))
        for new, old in ((1, (j, 1 - b)), (0, (i, 1 - a))):
            at[ends[new]] = [(i, new) if m == old else m for m in at[ends[new]]]
    network.chains = [c for c in network.chains if c.ends[0] != -2]


def _refined(points: Floats, strength: Floats32, width: float) -> Floats:
    """Move points to the middle of the ink across the line."""
    from scipy import ndimage

    if len(points) < 5:
        return points
    span = max(2, round(0.8 * width))
    closed = np.allclose(points[0], points[-1])
    mode: Literal["wrap", "nearest"] = "wrap" if closed else "nearest"
    smooth = ndimage.uniform_filter1d(points, span | 1, axis=0, mode=mode)
    slope = np.gradient(smooth, axis=0)
    if closed:
        slope[[0, -1]] = smooth[1] - smooth[-2]
    slope /= np.maximum(np.hypot(slope[:, 0], slope[:, 1]), 1e-9)[:, None]
    normal = np.stack([-slope[:, 1], slope[:, 0]], 1)
    reach = 0.8 * width + 1.0
    offsets = np.arange(-reach, reach + 0.01, 0.5)
    where = points[:, None, :] + offsets[None, :, None] * normal[:, None, :]
    ink = ndimage.map_coordinates(
        strength, [where[..., 1], where[..., 0]], order=1, mode="nearest"
    )
    # from the middle outward to where the ink lightens: what lies beyond is another's
    half = len(offsets) // 2
    ink[:, half:] = np.minimum.accumulate(ink[:, half:], axis=1)
    ink[:, half::-1] = np.minimum.accumulate(ink[:, half::-1], axis=1)
    ink = np.maximum(ink - 0.25 * ink.max(axis=1, keepdims=True), 0.0)
    total = np.maximum(ink.sum(1), 1e-9)
    shift = np.clip((ink * offsets).sum(1) / total, -0.5 * width, 0.5 * width)
    shift = ndimage.uniform_filter1d(shift, 3, mode="nearest")
    moved: Floats = points + shift[:, None] * normal
    return moved
