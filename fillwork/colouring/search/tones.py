"""What the rules of taste ask of swatches: roles, value, hue, shares of the area.

Lightness is CIE L*, chroma and hue are OKLCH's. Hues are told apart as families of
neighbouring hues; near-greys have none.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from fillwork.arrays import Bools, Floats, Ints
    from fillwork.colouring.palettes.model import Palette

CAP = 45.0
"""Contrast beyond which more gains nothing, ΔE00 or ΔL*."""

GREY = 0.035
"""OKLCH chroma below which a swatch counts as no hue."""

STEP = 20.0
"""L* that part ground and field, and field and border."""

NARROW = 0.05
"""Share of the area up to which a paint is not wide."""

_ROLE_SHARES = {"ground": 0.6, "main": 0.3, "accent": 0.1}
_ASKED = 40.0  # weight of shares asked for, beside those offered
_WARMEST = 55.0  # OKLCH hue of orange
_CLEAR = 0.12  # OKLCH chroma from which on a swatch is a clear colour
_SHOWS = 65.0  # L* from which on a dark line is plain to see
_FAMILY = 40.0  # degrees of hue that read as one


class Tones:
    """Hold what the rules ask of K swatches.

    `palette`: the swatches. `open_to` (K,): those meant for regions. `ground`: the one
    behind the pattern, if it is named. `dark`: whether it is the darkest otherwise.
    """

    def __init__(
        self, palette: Palette, open_to: Bools, ground: int | None, dark: bool
    ) -> None:
        self.lightness = np.array([s.lab[0] for s in palette.swatches])
        self.chroma = np.nan_to_num([s.oklch[1] for s in palette.swatches])
        self.hue = np.nan_to_num([s.oklch[2] for s in palette.swatches])
        clear = np.minimum(self.chroma / _CLEAR, 1.0)
        self.warm = clear * np.maximum(np.cos(np.radians(self.hue - _WARMEST)), 0.0)
        self.metal = np.array([s.medium == "leaf" for s in palette.swatches])
        self.roles = [s.role for s in palette.swatches]
        if ground is not None:
            self.roles[ground] = "ground"
        elif dark:
            ground = int(np.argmin(np.where(open_to, self.lightness, np.inf)))
            given = [j for j, role in enumerate(self.roles) if role == "ground"]
            for j in given:
                self.roles[j] = "accent" if self.roles[ground] == "accent" else "main"
            self.roles[ground] = "ground"
        elif "ground" not in self.roles and len(self.roles) > 2:
            # the palest stands in for a ground that a plain list of colours lacks
            pale = self.lightness - 100.0 * self.chroma
            self.roles[int(np.argmax(np.where(open_to, pale, -np.inf)))] = "ground"
        bare = np.clip((self.lightness - 80.0) / 12.0, 0.0, 1.0)
        # a dark line is lost on it
        self.dark = np.clip((_SHOWS - self.lightness) / 30.0, 0.0, 1.0)
        self.paper = bare * (self.chroma < GREY)  # like the paper around
        value = np.abs(self.lightness[:, None] - self.lightness[None, :])
        self.value = np.minimum(value, CAP) / CAP
        self.step = np.minimum(value / STEP, 1.0) + 0.25 * self.value
        self.blur = np.clip(1.0 - value / 15.0, 0.0, 1.0)
        near = value < STEP
        np.fill_diagonal(near, False)
        self.one_tone = near * (1.0 - 0.5 * value / STEP)
        self.same = np.eye(len(self.roles))

    def families(self, open_to: Bools) -> tuple[Ints, int]:
        """Return the hue family of each swatch.

        `open_to` (K,): swatches meant for regions. Returns `family` (K,): number of its
        family; the last number stands for none; `count`: how many families there are,
        and the number that stands for none.
        """
        coloured = np.flatnonzero((self.chroma >= GREY) & open_to)
        if not len(coloured):
            return np.zeros(len(self.chroma), np.int64), 0
        order = coloured[np.argsort(self.hue[coloured], kind="stable")]
        # the circle of hues is cut where it is widest
        angles = self.hue[order]
        gaps = np.diff(np.r_[angles, angles[0] + 360.0])
        order = np.roll(order, -(int(np.argmax(gaps)) + 1))
        family = np.full(len(self.chroma), -1, np.int64)
        number, first = -1, -np.inf
        last = 0.0
        for j in order.tolist():
            angle = last + (self.hue[j] - last) % 360.0
            if angle - first > _FAMILY:
                number, first = number + 1, angle
            family[j], last = number, angle
        family[family < 0] = number + 1
        return family, number + 1

    def far_in_hue(self) -> Floats:
        """Return how far two swatches are a clear hue and what answers it.

        Returns (K, K): 1 for two clear hues a third of the circle apart, half for one
        beside grey.
        """
        turn = np.abs(self.hue[:, None] - self.hue[None, :])
        turn = np.minimum(turn, 360.0 - turn)
        clear = np.minimum(self.chroma / _CLEAR, 1.0)
        both = np.minimum.outer(clear, clear) * np.minimum(turn / 120.0, 1.0)
        return np.asarray(np.maximum(both, 0.5 * np.abs(clear[:, None] - clear)))

    def alike_in_hue(self) -> Floats:
        """Return how far two swatches are one hue in two values.

        Returns (K, K): 1 for one hue, down to 0 for far hues or one value.
        """
        turn = np.abs(self.hue[:, None] - self.hue[None, :])
        turn = np.minimum(turn, 360.0 - turn)
        grey = np.minimum(self.chroma[:, None], self.chroma[None, :]) < GREY
        near = np.clip(1.0 - turn / (2 * _FAMILY), 0.0, 1.0)
        kin = np.where(grey, 0.2, near) * np.minimum(2 * self.value, 1.0)
        return np.asarray(kin, np.float64)


def beyond_narrow(share: NDArray[Any]) -> Floats:
    """Return by how much swatches are wide.

    `share` (ndarray of float64, shape (..., K)): shares of the area. Returns (..., K):
    what is beyond `NARROW`.
    """
    return np.asarray(np.maximum(share - NARROW, 0.0), np.float64)


def find_shares(
    palette: Palette,
    colours: Tones,
    asked: dict[int, float],
    open_to: Bools,
    weight: float,
    dark: bool,
) -> tuple[Floats, Floats]:
    """Return the area share wished for each swatch and its weight.

    `open_to` (K,): swatches meant for regions. `weight`: weight of shares that nobody
    asked for. `dark`: whether the ground is the darkest. Returns `target` and
    `strength` (K,): share of the area wished, and the weight of its squared miss.
    """
    kinds = len(palette.swatches)
    offered = np.zeros(kinds)
    for j, swatch in enumerate(palette.swatches):
        role = colours.roles[j]
        if swatch.share is not None:
            offered[j] = swatch.share
        elif role in _ROLE_SHARES:
            offered[j] = _ROLE_SHARES[role] / colours.roles.count(role)
    if dark:  # the new ground takes the room of the one before
        widest = int(np.argmax(np.where(open_to, offered, -1.0)))
        new = colours.roles.index("ground")
        offered[[new, widest]] = offered[[widest, new]]
    blank = offered == 0.0
    if blank.any():  # quiet colours may be large, clear ones small
        quiet = 1.0 / (0.05 + colours.chroma[blank])
        rest = 1.0 if blank.all() else float(offered[~blank].mean() * blank.sum())
        offered[blank] = rest * quiet / quiet.sum()
    offered[~open_to] = 0.0
    target = np.zeros(kinds)
    strength = np.full(kinds, weight)
    left = 1.0
    for j, share in asked.items():
        target[j], strength[j] = share, _ASKED
        offered[j] = 0.0
        left -= share
    if offered.sum() > 0:
        target += offered * (left / offered.sum())
    return target, strength / (target + 0.05)
