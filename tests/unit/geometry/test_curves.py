"""Lengths of curves."""

from __future__ import annotations

import numpy as np

from fillwork.geometry import curves


def test_the_rule_of_five_points_is_that_of_gauss() -> None:
    nodes, weights = np.polynomial.legendre.leggauss(5)
    assert np.allclose(curves.GAUSS, np.column_stack([nodes, weights]), atol=1e-14)
    # exact up to degree 9: the integral of x^8 from -1 to 1 is 2/9
    assert abs(sum(w * x**8 for x, w in curves.GAUSS) - 2 / 9) < 1e-15
