"""Mixing of paints against measured reflectance and standard tables."""

import warnings

import numpy as np
import pytest

from fillwork.colouring.difference import ciede2000, linear_to_srgb, srgb_to_lab
from fillwork.plans.spectra import (
    BANDS,
    absorb,
    linear_of,
    rebuild_reflectance,
    reflect,
)


@pytest.fixture(scope="module")
def colour():
    printing = np.get_printoptions()
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        found = pytest.importorskip("colour")
    # it changes how numpy prints, which other tests' examples depend on
    np.set_printoptions(**printing)
    return found


def bands_of(colour, distribution):
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        shape = colour.SpectralShape(380, 730, 10)
        return np.asarray(distribution.copy().align(shape).values)


@pytest.mark.reference("CIE 15:2004, tables T.4 and T.1, carried by colour-science")
def test_standard_observer_and_daylight(colour):
    name = "CIE 1931 2 Degree Standard Observer"
    theirs = bands_of(colour, colour.MSDS_CMFS[name])
    assert np.abs(BANDS[:, 1:4] - theirs).max() < 1e-6
    daylight = bands_of(colour, colour.SDS_ILLUMINANTS["D65"])
    assert np.abs(BANDS[:, 4] - daylight).max() < 1e-3


@pytest.mark.reference("ISO 17321-1 chart, measured reflectance in colour-science")
def test_mixes_of_measured_reflectance(colour):
    """Mix measured curves one to one; do the same on curves rebuilt from sRGB."""
    chart = colour.SDS_COLOURCHECKERS["ISO 17321-1"]
    measured = np.array([bands_of(colour, sd) for sd in chart.values()])
    linear = linear_of(measured)
    inside = ((linear > 0) & (linear < 1)).all(axis=1)
    measured, linear = measured[inside], linear[inside]
    assert len(measured) >= 20
    rebuilt = rebuild_reflectance(linear)
    one, other = np.triu_indices(len(measured), 1)

    def lab(curves):
        mixed = reflect((absorb(curves[one]) + absorb(curves[other])) / 2.0)
        return srgb_to_lab(np.clip(linear_to_srgb(linear_of(mixed)), 0, 1))

    apart = ciede2000(lab(measured), lab(rebuilt))
    # the order of size is what matters: a swatch is painted anyway
    assert np.median(apart) < 1.5
    assert np.percentile(apart, 90) < 4.0


@pytest.mark.reference("Kubelka & Munk 1931: R = 1 + K/S - sqrt((K/S)² + 2 K/S)")
def test_kubelka_munk_by_hand():
    # K/S = (1 - 0.5)² / (2 x 0.5) = 0.25; K/S = 0.9² / 0.2 = 4.05
    assert absorb([0.5, 0.1]) == pytest.approx([0.25, 4.05])
    assert reflect([0.25, 4.05]) == pytest.approx([0.5, 0.1])
