import numpy as np
import pytest

from fillwork.arrangement.build import build_arrangement
from fillwork.symmetry.lines import lattice_fit
from fillwork.symmetry.lines.evidence import Evidence
from fillwork.symmetry.lines.fit import LADDER
from fillwork.symmetry.lines.gathering import gather_evidence
from tests.unit.helpers import linework_from_segments


@pytest.fixture(scope="module")
def evidence() -> Evidence:
    """Return the lines of a brick wall, every third brick of it crossed."""
    lines = []
    for row in range(9):
        for column in range(9):
            x, y = 12.0 * column + 6.0 * (row % 2), 7.0 * row
            lines += [(x, y, x + 12, y), (x, y, x, y + 7)]
            if (column + row) % 3 == 0:
                lines.append((x, y, x + 12, y + 7))
    return gather_evidence(build_arrangement(linework_from_segments(lines, 120, 70)))


@pytest.mark.parametrize("most", [8, 60, 2000])
def test_images_are_the_samples_moved_both_ways_inside_the_window(evidence, most):
    rows = evidence.thin(500)
    # one step, one that leaves little of the wall, and one that leaves none
    vectors = np.array([[12.0, 0.0], [60.0, 49.0], [300.0, 0.0]])
    images = lattice_fit.translate_images(evidence, vectors, rows, most)
    assert np.array_equal(images.points, evidence.samples[images.source])
    assert np.array_equal(images.directions, evidence.directions[images.source])
    moved = images.at(vectors)
    assert (evidence.window.depth_at(moved) > 0).all()
    assert np.isin(images.source, rows).all()
    each = np.bincount(2 * images.owner + (images.sign < 0), minlength=6)
    assert (each <= most // 2).all()
    for number, sign in ((k, sign) for k in range(3) for sign in (1.0, -1.0)):
        mine = images.source[(images.owner == number) & (images.sign == sign)]
        assert len(np.unique(mine)) == len(mine)
        there = evidence.samples[rows] + sign * vectors[number]
        could = int((evidence.window.depth_at(there) > 0).sum())
        # where more than are wanted fall inside, at least half as many are asked
        assert len(mine) >= min(could, most // 4)
        if most == 2000:
            assert len(mine) == could


def test_lines_are_asked_once_for_all_steps_of_the_ladder(evidence, monkeypatch):
    asked = []
    real = lattice_fit.translate_images

    def counted(evidence, vectors, rows, most):
        asked.append(np.asarray(vectors).tobytes())
        return real(evidence, vectors, rows, most)

    monkeypatch.setattr(lattice_fit, "translate_images", counted)
    measures = lattice_fit.LatticeMeasures(evidence)
    basis = np.array([[12.0, 0.0], [6.0, 7.0]])
    fits = [measures.fit(basis, level) for level in range(len(LADDER))]
    assert len(asked) == len(set(asked))
    # a looser tolerance reaches more of the images
    assert [fit.level for fit in fits] == list(range(len(LADDER)))
    assert all(fit.rms <= LADDER[fit.level] * evidence.scale for fit in fits)
