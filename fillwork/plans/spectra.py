"""Reflectance curves in 36 bands, for the mixing of paints.

A *reflectance* says for each band of wavelengths (10 nm, 380 to 730 nm) how much
light comes back, 0 to 1. A colour does not fix its curve; the smoothest curve
that gives the colour serves in its place. A real paint's curve differs, so what
is computed from it is an estimate.

Columns of `BANDS`: wavelength (nm), the colour-matching functions of the CIE 1931
2° standard observer, relative power of CIE standard illuminant D65: CIE 15:2004,
Colorimetry, tables T.4 and T.1 (every 10 nm), as carried by colour-science 0.4.7
(BSD-3-Clause).
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from fillwork.colouring.difference import xyz_to_linear

if TYPE_CHECKING:
    from numpy.typing import ArrayLike

    from fillwork.arrays import Floats

BANDS = np.array(
    [
        (380, 0.001368, 3.9e-05, 0.00645, 49.9755),
        (390, 0.004243, 0.00012, 0.02005, 54.6482),
        (400, 0.01431, 0.000396, 0.06785, 82.7549),
        (410, 0.04351, 0.00121, 0.2074, 91.486),
        (420, 0.13438, 0.004, 0.6456, 93.4318),
        (430, 0.2839, 0.0116, 1.3856, 86.6823),
        (440, 0.34828, 0.023, 1.74706, 104.865),
        (450, 0.3362, 0.038, 1.77211, 117.008),
        (460, 0.2908, 0.06, 1.6692, 117.812),
        (470, 0.19536, 0.09098, 1.28764, 114.861),
        (480, 0.09564, 0.13902, 0.81295, 115.923),
        (490, 0.03201, 0.20802, 0.46518, 108.811),
        (500, 0.0049, 0.323, 0.272, 109.354),
        (510, 0.0093, 0.503, 0.1582, 107.802),
        (520, 0.06327, 0.71, 0.07825, 104.79),
        (530, 0.1655, 0.862, 0.04216, 107.689),
        (540, 0.2904, 0.954, 0.0203, 104.405),
        (550, 0.43345, 0.99495, 0.00875, 104.046),
        (560, 0.5945, 0.995, 0.0039, 100.0),
        (570, 0.7621, 0.952, 0.0021, 96.3342),
        (580, 0.9163, 0.87, 0.00165, 95.788),
        (590, 1.0263, 0.757, 0.0011, 88.6856),
        (600, 1.0622, 0.631, 0.0008, 90.0062),
        (610, 1.0026, 0.503, 0.00034, 89.5991),
        (620, 0.85445, 0.381, 0.00019, 87.6987),
        (630, 0.6424, 0.265, 5e-05, 83.2886),
        (640, 0.4479, 0.175, 2e-05, 83.6992),
        (650, 0.2835, 0.107, 0.0, 80.0268),
        (660, 0.1649, 0.061, 0.0, 80.2146),
        (670, 0.0874, 0.032, 0.0, 82.2778),
        (680, 0.04677, 0.017, 0.0, 78.2842),
        (690, 0.0227, 0.00821, 0.0, 69.7213),
        (700, 0.011359, 0.004102, 0.0, 71.6091),
        (710, 0.00579, 0.002091, 0.0, 74.349),
        (720, 0.002899, 0.001047, 0.0, 61.604),
        (730, 0.00144, 0.00052, 0.0, 69.8856),
    ]
)
"""Shape (36, 5), read-only."""
BANDS.setflags(write=False)

_LEAST, _MOST = 2e-4, 0.985


def _to_linear() -> Floats:
    """Return the matrix (3, 36) from reflectance to linear sRGB.

    Scaled a little for each channel, so that a perfect reflector is exactly the
    white of sRGB whatever the width of the bands.
    """
    weights = BANDS[:, 1:4] * BANDS[:, 4:5]
    matrix = xyz_to_linear(weights).T
    return np.asarray(matrix / matrix.sum(axis=1, keepdims=True))


_MATRIX = _to_linear()
_MATRIX.setflags(write=False)


def linear_of(reflectance: ArrayLike) -> Floats:
    """Return linear sRGB of reflectance curves in daylight.

    `reflectance` (..., 36): curves, 0 to 1. Returns (..., 3): linear sRGB, not clipped.
    """
    return np.asarray(np.asarray(reflectance, dtype=np.float64) @ _MATRIX.T)


def rebuild_reflectance(linear: ArrayLike) -> Floats:
    """Return the smoothest reflectance curve of each colour.

    `linear` (n, 3), 0 to 1: linear sRGB; values are held within 0.0002 and 0.985, for
    no paint is perfectly black or white. Returns (n, 36): curves between 0 and 1.

    The least hyperbolic tangent slope squared method [1]_: with reflectance
    (1 + tanh z) / 2 the sum of squared steps of z is made least under the three
    equations for the colour, by Newton's method with Lagrange multipliers.

    References
    ----------
    .. [1] S. A. Burns, "Numerical methods for smoothest reflectance
       reconstruction", Color Research & Application 45(1), 8-21, 2020.
    """
    wanted = np.clip(np.asarray(linear, dtype=np.float64).reshape(-1, 3), _LEAST, _MOST)
    count, bands = len(wanted), len(BANDS)
    slope = 2.0 * np.eye(bands) - np.eye(bands, k=1) - np.eye(bands, k=-1)
    slope[0, 0] = slope[-1, -1] = 1.0
    slope *= 2.0
    z = np.zeros((count, bands))
    force = np.zeros((count, 3))
    diagonal = np.arange(bands)
    for _ in range(100):
        tanh = np.tanh(z)
        sech = (1.0 - tanh * tanh) / 2.0
        pull = force @ _MATRIX
        first = z @ slope + sech * pull
        second = (1.0 + tanh) / 2.0 @ _MATRIX.T - wanted
        if max(np.abs(first).max(initial=0.0), np.abs(second).max(initial=0.0)) < 1e-9:
            break
        system = np.zeros((count, bands + 3, bands + 3))
        system[:, :bands, :bands] = slope
        system[:, diagonal, diagonal] -= 2.0 * sech * tanh * pull
        system[:, :bands, bands:] = sech[:, :, None] * _MATRIX.T
        system[:, bands:, :bands] = _MATRIX * sech[:, None, :]
        right = np.concatenate([first, second], axis=1)[:, :, None]
        step = np.linalg.solve(system, right)[:, :, 0]
        # long steps are cut: the tangent is flat far out
        size = np.abs(step[:, :bands]).max(axis=1, keepdims=True)
        step *= np.minimum(1.0, 1.0 / np.maximum(size, 1e-12))
        z -= step[:, :bands]
        force -= step[:, bands:]
    return np.asarray((1.0 + np.tanh(z)) / 2.0)


def absorb(reflectance: ArrayLike) -> Floats:
    """Return the ratio K/S of absorption to scattering of opaque layers.

    `reflectance` (..., 36): curves, above 0. Returns (..., 36): (1 - R)² / 2R.

    References
    ----------
    .. [1] P. Kubelka, F. Munk, "Ein Beitrag zur Optik der Farbanstriche",
       Zeitschrift für technische Physik 12, 593-601, 1931.
    """
    value = np.clip(np.asarray(reflectance, dtype=np.float64), 1e-5, 1.0)
    return np.asarray((1.0 - value) ** 2 / (2.0 * value))


def reflect(ratio: ArrayLike) -> Floats:
    """Return the reflectance of opaque layers with a ratio K/S.

    `ratio` (..., 36): K/S, 0 or more. Returns (..., 36): 1 + K/S - sqrt((K/S)² + 2
    K/S), the inverse of `absorb`.
    """
    value = np.asarray(ratio, dtype=np.float64)
    return np.asarray(1.0 + value - np.sqrt(value * value + 2.0 * value))


def mix_reflectance(ratios: ArrayLike, amounts: ArrayLike) -> Floats:
    """Return the reflectance of mixes by the single-constant theory.

    `ratios` (p, 36): K/S of each paint. `amounts` (..., p): how much of each, weighted
    by its tinting strength. Returns (..., 36): curves.

    References
    ----------
    .. [1] D. R. Duncan, "The colour of pigment mixtures", Proceedings of the
       Physical Society 52, 390-401, 1940: K/S of a mix is the weighted mean.
    """
    weight = np.asarray(amounts, dtype=np.float64)
    weight = weight / weight.sum(axis=-1, keepdims=True)
    return reflect(weight @ np.asarray(ratios, dtype=np.float64))
