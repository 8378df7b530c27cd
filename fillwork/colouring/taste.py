"""What a painter would prefer among colourings that keep kinds apart.

Common practice, no source: a ground, one or two main colours, small accents
(about 60, 30 and 10 % of the area); large regions in quiet colours, fine ones in
clear ones; light against dark at the figure that should read first, mostly a
star. The preferences are numbers to be added, lower is better:

* how far area shares are from those wished (asked for: heavy; of the palette or
  its roles: light);
* swatches that stay unused;
* contrast along shared edges, as much lightness as colour, with diminishing
  gain, and doubled around figures;
* roles: ground on background, accents on figures and small kinds.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from fillwork.colouring.model import Palette, Rules
    from fillwork.colouring.wishes import Classes
    from fillwork.symmetry.model import Orbits

__all__ = ["Taste", "form_taste", "kind_parts"]

_ROLE_SHARES = {"ground": 0.6, "main": 0.3, "accent": 0.1}
_CAP = 45.0  # contrast beyond this gains nothing, ΔE00 or ΔL*
_ASKED, _OFFERED = 40.0, 1.0  # weight of shares asked for, of those offered
_USED, _CONTRAST, _ROLES = 3.0, 1.6, 0.9


@dataclass(frozen=True, slots=True, eq=False)
class Taste:
    """Hold preferences for N classes and K swatches.

    Parameters
    ----------
    area : ndarray of float64, shape (N,)
        Share of the area of each class.
    cost : ndarray of float64, shape (N, K)
        Cost of each swatch on each class by itself.
    contrast : ndarray of float64, shape (K, K)
        Gain of two swatches beside each other.
    links : ndarray of int, shape (E, 2)
        Classes that touch.
    weight : ndarray of float64, shape (E,)
        Weight of each link.
    target, strength : ndarray of float64, shape (K,)
        Area share wished and the weight of its squared miss.
    used_gain : ndarray of float64, shape (K,)
        Gain for using a swatch at all.
    """

    area: NDArray[np.float64]
    cost: NDArray[np.float64]
    contrast: NDArray[np.float64]
    links: NDArray[np.integer]
    weight: NDArray[np.float64]
    target: NDArray[np.float64]
    strength: NDArray[np.float64]
    used_gain: NDArray[np.float64]

    def measure(self, swatches: NDArray[np.integer]) -> float:
        """Return the cost of an assignment.

        Parameters
        ----------
        swatches : ndarray of int, shape (N,)
            Swatch of each class.

        Returns
        -------
        float
            Lower is better.
        """
        kinds = len(self.target)
        share = np.bincount(swatches, weights=self.area, minlength=kinds)
        used = np.bincount(swatches, minlength=kinds) > 0
        value = float((self.strength * (share - self.target) ** 2).sum())
        value -= float(self.used_gain[used].sum())
        value += float(self.cost[np.arange(len(swatches)), swatches].sum())
        if len(self.links):
            ends = swatches[self.links]
            value -= float((self.weight * self.contrast[ends[:, 0], ends[:, 1]]).sum())
        return value


def kind_parts(
    classes: Classes, orbits: Orbits
) -> tuple[NDArray[np.float64], NDArray[np.float64], NDArray[np.float64]]:
    """Return how far each class plays ground, figure and small detail.

    Parameters
    ----------
    classes : Classes
        The classes.
    orbits : Orbits
        Their kinds, for names and site symmetry.

    Returns
    -------
    ground, figure, small : ndarray of float64, shape (N,)
        0 to 1 each.
    """
    count = classes.count
    whole = max(float(classes.area.sum()), 1e-12)
    share = classes.area / whole
    touched = np.bincount(classes.links.ravel(), minlength=count).astype(float)
    figure = np.zeros(count)
    one = np.zeros(count)
    for j, row in enumerate(classes.orbit.tolist()):
        orbit = orbits.orbits[row]
        name = f"{orbit.name} {orbit.base_name}".casefold()
        digits = "".join(c for c in orbit.site_symmetry if c.isdigit())
        order = int(digits) if digits else 1
        if "star" in name or "rosette" in name:
            figure[j] = 1.0
        elif order >= 3:
            figure[j] = 0.6
        # a larger figure reads before a smaller one
        one[j] = orbit.area
    if one.max(initial=0.0) > 0:
        figure *= 0.4 + 0.6 * np.sqrt(one / one.max())
    ground = share / max(float(share.max(initial=0.0)), 1e-12)
    ground *= 0.5 + 0.5 * touched / max(float(touched.max(initial=0.0)), 1.0)
    ground *= 1.0 - 0.7 * figure
    ground /= max(float(ground.max(initial=0.0)), 1e-12)
    small = np.clip(1.0 - share * count / 2.0, 0.0, 1.0)
    return ground, figure, small


def _targets(
    palette: Palette, asked: dict[int, float], open_to: NDArray[np.bool_]
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Return the area share wished for each swatch and its weight."""
    kinds = len(palette.swatches)
    offered = np.zeros(kinds)
    roles = [swatch.role for swatch in palette.swatches]
    chroma = np.array([swatch.oklch[1] for swatch in palette.swatches])
    for j, swatch in enumerate(palette.swatches):
        if swatch.share is not None:
            offered[j] = swatch.share
        elif swatch.role in _ROLE_SHARES:
            offered[j] = _ROLE_SHARES[swatch.role] / roles.count(swatch.role)
    blank = offered == 0.0
    if blank.any():  # quiet colours may be large, clear ones small
        quiet = 1.0 / (0.05 + np.nan_to_num(chroma[blank]))
        rest = 1.0 if blank.all() else float(offered[~blank].mean() * blank.sum())
        offered[blank] = rest * quiet / quiet.sum()
    offered[~open_to] = 0.0
    target = np.zeros(kinds)
    strength = np.full(kinds, _OFFERED)
    left = 1.0
    for j, share in asked.items():
        target[j], strength[j] = share, _ASKED
        offered[j] = 0.0
        left -= share
    if offered.sum() > 0:
        target += offered * (left / offered.sum())
    return target, strength / (target + 0.05)


def form_taste(
    classes: Classes,
    orbits: Orbits,
    palette: Palette,
    rules: Rules,
    differences: NDArray[np.float64],
    asked: dict[int, float],
    open_to: NDArray[np.bool_],
    ground: int | None,
) -> Taste:
    """Gather what is preferred for one drawing and palette.

    Parameters
    ----------
    classes : Classes
        The classes.
    orbits : Orbits
        Their kinds.
    palette : Palette
        The swatches.
    rules : Rules
        The wishes.
    differences : ndarray of float64, shape (K, K)
        CIEDE2000 between swatches.
    asked : dict of int to float
        Area shares asked for.
    open_to : ndarray of bool, shape (K,)
        Swatches meant for regions.
    ground : int or None
        Swatch behind the pattern.

    Returns
    -------
    Taste
        The preferences.
    """
    count, kinds = classes.count, len(palette.swatches)
    whole = max(float(classes.area.sum()), 1e-12)
    area = classes.area / whole
    behind, figure, small = kind_parts(classes, orbits)
    lightness = np.array([swatch.lab[0] for swatch in palette.swatches])
    chroma = np.nan_to_num([swatch.oklch[1] for swatch in palette.swatches])
    apart = np.minimum(differences, _CAP) / _CAP
    value = np.minimum(np.abs(lightness[:, None] - lightness[None, :]), _CAP) / _CAP
    contrast = np.sqrt((apart + value) / 2.0)
    if rules.goal_difference > 0:  # where the goal cannot be met, come near it
        miss = np.clip(1.0 - differences / rules.goal_difference, 0.0, 1.0)
        contrast = contrast - miss**2
    asked_length = np.maximum(classes.shared, 0.02 * _mean(classes.shared))
    reads = 1.0 + np.maximum(figure[classes.links[:, 0]], figure[classes.links[:, 1]])
    weight = asked_length * reads
    if weight.sum() > 0:
        weight = _CONTRAST * weight / weight.sum()
    elif len(weight):
        weight = np.full(len(weight), _CONTRAST / len(weight))
    cost = np.zeros((count, kinds))
    accent = np.maximum(figure, 0.6 * small)
    for j, swatch in enumerate(palette.swatches):
        if swatch.role == "ground" or j == ground:
            cost[:, j] -= 2.0 * behind - 0.5
            cost[:, j] += 0.5 * figure
        elif swatch.role == "accent":
            cost[:, j] -= accent - 0.4
        elif swatch.role == "main":
            cost[:, j] -= 0.4 * (1.0 - small)
        if not open_to[j]:
            cost[:, j] += 2.0
    if chroma.max() > 0:
        cost += 0.4 * np.outer(1.0 - small, chroma / chroma.max())
    # half by number, half by area, so that neither small nor large kinds rule
    each = 0.5 / max(count, 1) + 0.5 * area
    cost *= _ROLES * each[:, None]
    target, strength = _targets(palette, asked, open_to)
    usable = max(1, min(count, int(open_to.sum())))
    gain = np.where(open_to, _USED / usable, 0.0)
    gain[[j for j, share in asked.items() if share <= 0.0]] = 0.0
    return Taste(
        area=area,
        cost=cost,
        contrast=contrast,
        links=classes.links,
        weight=weight,
        target=target,
        strength=strength,
        used_gain=gain,
    )


def _mean(values: NDArray[np.float64]) -> float:
    return float(values.mean()) if len(values) else 0.0
