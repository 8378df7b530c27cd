"""Simulated colour-vision deficiency against what others published."""

import warnings

import numpy as np
import pytest
from coloraide import Color

from fillwork.colouring.difference import srgb_to_lab
from fillwork.colouring.vision import MACHADO, view_srgb


@pytest.fixture(scope="module")
def blindness():
    printing = np.get_printoptions()
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        found = pytest.importorskip("colour")
    # it changes how numpy prints, which other tests' examples depend on
    np.set_printoptions(**printing)
    return found.blindness


@pytest.mark.reference("Machado 2009, matrices carried by colour-science")
@pytest.mark.parametrize(
    ("view", "deficiency"),
    [("protan", "Protanomaly"), ("deutan", "Deuteranomaly"), ("tritan", "Tritanomaly")],
)
def test_matrices(blindness, view, deficiency):
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        theirs = np.asarray(blindness.matrix_cvd_Machado2009(deficiency, 1.0))
    assert np.abs(MACHADO[view] - theirs).max() < 1e-6


@pytest.mark.reference("coloraide, filter with method machado")
@pytest.mark.parametrize("view", ["protan", "deutan", "tritan"])
def test_views_agree_with_coloraide(view):
    rng = np.random.default_rng(5)
    srgb = rng.random((60, 3))
    ours = view_srgb(srgb, view)
    theirs = [
        Color("srgb", c).filter(view, 1, method="machado", out_space="srgb").coords()
        for c in srgb.tolist()
    ]
    assert np.abs(ours - np.clip(theirs, 0, 1)).max() < 1e-4


@pytest.mark.reference("CIE 15:2004: L* of a grey is that of its luminance")
def test_grey_keeps_lightness():
    rng = np.random.default_rng(6)
    srgb = rng.random((60, 3))
    before, after = srgb_to_lab(srgb), srgb_to_lab(view_srgb(srgb, "grey"))
    assert np.abs(before[:, 0] - after[:, 0]).max() < 1e-9
    assert np.abs(after[:, 1:]).max() < 1e-6
