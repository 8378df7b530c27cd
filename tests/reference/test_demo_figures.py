"""Figures of the demo against what geometry and the trade say of them."""

from pathlib import Path
from types import ModuleType

import pytest
import shapely

from fillwork import make_survey
from fillwork.pipeline.demo import demo_drawing

ROOT = Path(__file__).resolve().parents[2]


@pytest.fixture
def compass(monkeypatch: pytest.MonkeyPatch) -> ModuleType:
    monkeypatch.syspath_prepend(str(ROOT / "demo"))
    import compass

    return compass


@pytest.fixture
def make_drawings(monkeypatch: pytest.MonkeyPatch) -> ModuleType:
    monkeypatch.syspath_prepend(str(ROOT / "demo"))
    import make_drawings

    return make_drawings


def regions(strokes: list) -> list[shapely.Polygon]:
    """Return the regions between straight strokes, found by shapely."""
    drawn = []
    for stroke in strokes:
        points = [stroke.start, *(piece.end for piece in stroke.pieces)]
        if stroke.closed:
            points.append(stroke.start)
        drawn.append(shapely.LineString([(p.real, p.imag) for p in points]))
    merged = shapely.unary_union(shapely.set_precision(drawn, 1e-6), grid_size=1e-6)
    return list(shapely.polygonize([merged]).geoms)


@pytest.mark.parametrize(
    ("n", "k"), [(5, 2), (8, 2), (8, 3), (10, 3), (10, 4), (12, 4), (12, 5)]
)
@pytest.mark.reference(
    "regions of the star polygon {n/k}: n(k - 1) + 1, common practice"
)
def test_star_polygons_have_their_number_of_regions(
    compass: ModuleType, n: int, k: int
) -> None:
    tips = compass.divide_circle(0, 50.0, n)
    strokes = [compass.lines(tips[i], tips[(i + k) % n]) for i in range(n)]
    assert len(regions(strokes)) == n * (k - 1) + 1


@pytest.mark.reference("stars tip to tip leave crosses, common practice, no source")
def test_eight_point_stars_tip_to_tip_leave_crosses(
    compass: ModuleType, make_drawings: ModuleType
) -> None:
    stars = [
        compass.lines(*make_drawings.two_squares(complex(x, y), 20), closed=True)
        for x in (0, 40, 80)
        for y in (0, 40, 80)
    ]
    found = regions(stars)
    corners = sorted(len(face.exterior.coords) - 1 for face in found)
    # A star has eight tips and eight notches. A cross has four right-angled tips, four
    # notches where stars point at it, and eight corners at the stars' own notches.
    assert len(found) == 9 + 4
    assert corners == [16] * 13
    areas = sorted({round(face.area, 6) for face in found})
    assert len(areas) == 2
    # Star and cross together are one repeat.
    assert sum(areas) == pytest.approx(40.0**2)


@pytest.mark.reference("interior angles 144° and 108° of decagon and pentagon (Euclid)")
def test_ten_pentagons_close_round_a_decagon(
    compass: ModuleType, make_drawings: ModuleType
) -> None:
    ten, five = (make_drawings.inradius_of(n, 24.0) for n in (10, 5))
    pentagons = [
        compass.divide_circle(
            compass.towards(90 + 36 * i) * (ten + five), five, 5, 270 + 36 * i
        )
        for i in range(10)
    ]
    for i in range(10):
        assert abs(pentagons[i][4] - pentagons[(i + 1) % 10][1]) < 1e-9


@pytest.mark.parametrize(
    ("name", "group"),
    [
        ("warm-room-ceiling", "plane p6m"),
        ("cloakroom-door", "plane p4m"),
        ("fountain-medallion", "rosette D10"),
        ("bench-border", "frieze p2mm"),
        ("stair-whirl", "plane p6"),
        ("curling-stems", "rosette D1"),
        ("framed-panel", "plane p4m"),
        ("drafting-sheet", "rosette D12"),
    ],
)
@pytest.mark.reference("groups by construction, in the table of demo/README.md")
def test_the_largest_zone_has_the_group_of_its_construction(
    name: str, group: str
) -> None:
    survey = make_survey(demo_drawing(name), name=f"{name}.svg")
    found = survey.zones[0].symmetry
    assert found.group.title == group
    assert found.certain
