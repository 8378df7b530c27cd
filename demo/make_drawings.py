"""Construct the drawings of this demo and write them as SVG at true size.

Run it from any folder: `python demo/make_drawings.py`. Each function builds one drawing
in steps that compass and straightedge can follow: circles divided, lines joined,
crossings found. Only the lines that an artist would ink are written; the drafting
sheet alone shows its construction too, on a layer of its own. Star angles
(67.5 degrees and the like) are set off from a line, as with a bevel.
"""

import argparse
import math
from collections.abc import Callable
from pathlib import Path

from compass import (
    Arc,
    Curve,
    Drawing,
    Point,
    Stroke,
    Window,
    arc,
    chain,
    divide_circle,
    lines,
    meet_circles,
    meet_line_circle,
    meet_lines,
    mirrored,
    repeat,
    towards,
    turned,
)
from stems import Quarter, daisy, leaf_on, scroll

# Figures used by several drawings


def two_squares(centre: Point, radius: float, first: float = 0.0) -> list[Point]:
    """Return the outline of two squares, one turned by 45 degrees: tips and notches."""
    tips = divide_circle(centre, radius, 8, first)
    outline = []
    for i in range(8):
        notch = meet_lines(
            tips[i], tips[(i + 2) % 8], tips[(i + 1) % 8], tips[(i - 1) % 8]
        )
        outline += [tips[i], notch]
    return outline


def star_through(tips: list[Point], step: int) -> list[Point]:
    """Return the outline of the star whose lines join each tip to the step-th next."""
    n = len(tips)
    outline = []
    for i in range(n):
        notch = meet_lines(
            tips[i], tips[(i + step) % n], tips[(i + 1) % n], tips[(i + 1 - step) % n]
        )
        outline += [tips[i], notch]
    return outline


def polygon_star(
    centre: Point,
    inradius: float,
    sides: int,
    first: float,
    angle: float,
    crossings: int = 1,
) -> list[Stroke]:
    """Draw the star that stands on the middles of a regular polygon's sides.

    From the middle of each side two lines go inwards at `angle` degrees to the side.
    Each line ends where it meets its opposite number from the side `crossings` on.
    """
    middles = divide_circle(centre, inradius, sides, first)

    def along(i: int, turn: float) -> tuple[Point, Point]:
        middle = middles[i % sides]
        side = 1j * (middle - centre) / inradius
        return middle, middle + turned(side if turn > 0 else -side, turn)

    ends = [
        meet_lines(*along(i, angle), *along(i + crossings, -angle))
        for i in range(sides)
    ]
    if crossings == 1:
        outline = [p for pair in zip(middles, ends, strict=True) for p in pair]
        return [lines(*outline, closed=True)]
    # The two lines that meet at one end are drawn without lifting the pen.
    return [
        lines(middles[i], ends[i], middles[(i + crossings) % sides])
        for i in range(sides)
    ]


def polygon_star_notches(
    centre: Point,
    inradius: float,
    sides: int,
    first: float,
    angle: float,
    crossing: int,
) -> list[Point]:
    """Return where the lines of a `polygon_star` cross for the given time."""
    strokes = polygon_star(centre, inradius, sides, first, angle, crossing)
    if crossing == 1:
        return [piece.end for piece in strokes[0].pieces][::2]
    return [stroke.pieces[0].end for stroke in strokes]


def inradius_of(sides: int, side: float) -> float:
    """Return the radius of the circle that touches the sides of a regular polygon."""
    return side / 2 / math.tan(math.pi / sides)


# The drawings


def warm_room_ceiling() -> Drawing:
    """Draw twelve-point stars on a six-fold ground, cut by the frame (p6m).

    Dodecagons, hexagons and squares of one side length tile the plane. A star stands
    on the middles of each polygon's sides, all lines at 67.5 degrees, so that each
    line runs straight on into the next polygon. A second star sits in the first.
    """
    page = Drawing(297, 210, "Warm room ceiling")
    pitch = 48.0
    side = pitch / (3 + math.sqrt(3))  # dodecagon, square, dodecagon fill one pitch
    first, second = pitch + 0j, pitch * towards(60)
    twelve = inradius_of(12, side)
    cell = polygon_star(0, twelve, 12, 0, 67.5, 2)
    notches = polygon_star_notches(0, twelve, 12, 0, 67.5, 2)
    cell.append(lines(*star_through(notches, 4), closed=True))
    for centre in ((first + second) / 3, (first + second) * 2 / 3):
        cell += polygon_star(centre, inradius_of(6, side), 6, 30, 67.5)
    for centre, angle in (
        (first / 2, 0),
        (second / 2, 60),
        ((second - first) / 2, 120),
    ):
        cell += polygon_star(centre, side / 2, 4, angle, 67.5)
    middle = 148.5 + 105j
    half_width, half_height = 2.5 * pitch, math.sqrt(3) * pitch
    frame = Window(
        middle.real - half_width,
        middle.imag - half_height,
        middle.real + half_width,
        middle.imag + half_height,
    )
    page.layer("ink")
    page.draw(*repeat(cell, frame, first, second, middle))
    page.draw(frame.edge())
    return page


def eight_point_cell(pitch: float) -> list[Stroke]:
    """Draw one repeat of eight-point stars set tip to tip and the crosses between."""
    star = two_squares(0, pitch / 2)
    cell = [lines(*star, closed=True)]
    notches = star[1::2]
    for i in range(8):  # the lines from the notches run on to their second crossing
        j = (i + 2) % 8
        end = meet_lines(
            notches[i], notches[(i + 3) % 8], notches[j], notches[(j - 3) % 8]
        )
        cell.append(lines(notches[i], end, notches[j]))
    cross = complex(pitch / 2, pitch / 2)
    small = two_squares(cross, abs(cross) - pitch / 2, 45)
    cell.append(lines(*small, closed=True))
    cell.append(lines(*star_through(small[1::2], 3), closed=True))
    return cell


def cloakroom_door() -> Drawing:
    """Draw eight-point stars and crosses, turned against the frame (p4m).

    Two squares, one turned by 45 degrees, make the star; stars set tip to tip leave
    crosses. The pattern is turned by the slope of one in three, so that no edge of the
    frame follows it.
    """
    page = Drawing(210, 297, "Cloakroom door")
    pitch = 56.0
    slope = (3 + 1j) / abs(3 + 1j)
    cell = [s.moved(lambda p: p * slope) for s in eight_point_cell(pitch)]
    frame = Window(25, 26, 185, 271)
    page.layer("ink")
    page.draw(*repeat(cell, frame, pitch * slope, pitch * slope * 1j, 152 + 169j))
    page.draw(frame.edge())
    return page


def fountain_medallion() -> Drawing:
    """Draw a ten-fold rosette in a ring (D10).

    Ten pentagons stand on the sides of a decagon and close round it. A pentagram is
    drawn in each, a star in the decagon, and the lines of the pentagrams run on to the
    circle through their crossings. One tenth is drawn and set down ten times.
    """
    page = Drawing(240, 240, "Fountain medallion")
    centre = 120 + 120j
    rim, toothed, outer = 88.0, 104.0, 109.0
    # Fit the pentagram lines of neighbours to cross on the rim: the side follows.
    side = 24.0 * rim / medallion_rim(24.0)
    ten, five = inradius_of(10, side), inradius_of(5, side)
    star = polygon_star(centre, ten, 10, 90, 72, 2)
    core = star_through(polygon_star_notches(centre, ten, 10, 90, 72, 2), 3)
    tenth = [star[0], lines(core[0], core[1], core[2])]
    # Middles of the pentagon's sides: inner, right, upper right, upper left, left.
    middle = divide_circle(centre + 1j * (ten + five), five, 5, 270)
    tenth.append(lines(middle[1], middle[4]))
    for a, b in ((0, 2), (0, 3), (4, 2), (1, 3)):
        _, on_rim = meet_line_circle(middle[a], middle[b], centre, rim)
        tenth.append(lines(middle[a], on_rim))
    # The ring: feet where two lines reach the rim together, tips half-way between.
    right = meet_line_circle(middle[0], middle[2], centre, rim)[1]
    left = mirrored(right, centre, centre + 1j)
    next_right = turned(right, 36, centre)
    tip = centre + toothed * 1j
    tenth.append(lines(right, tip, left, turned(tip, 18, centre), next_right))
    page.layer("ink")
    page.stamp("tenth", tenth)
    for i in range(10):
        page.set_turned("tenth", 36 * i, centre)
    for radius in (rim, toothed, outer):
        page.circle(centre, radius)
    return page


def medallion_rim(side: float) -> float:
    """Return the radius where pentagram lines of neighbouring pentagons cross."""
    ten, five = inradius_of(10, side), inradius_of(5, side)

    def chord(i: int, a: int, b: int) -> tuple[Point, Point]:
        points = divide_circle(
            towards(90 + 36 * i) * (ten + five), five, 5, 270 + 36 * i
        )
        return points[a], points[b]

    return abs(meet_lines(*chord(0, 0, 3), *chord(1, 4, 2)))


def bench_border() -> Drawing:
    """Draw a border strip: eight-point stars between bands of teeth (p2mm).

    One repeat is drawn, and set down ten times along the strip.
    """
    page = Drawing(440, 80, "Bench border")
    pitch, left = 40.0, 20.0
    low, band, high = 12.0, 8.0, 68.0
    centre = complex(left + pitch / 2, 40)
    field = Window(left, low + band, left + pitch, high - band)
    star = two_squares(centre, pitch / 2)
    unit = [lines(*star, closed=True)]
    unit.append(lines(*star_through(star[1::2], 3), closed=True))
    # Between stars: the halves of a small star, cut where the rule and repeat end.
    for x in (0.0, pitch):
        for y in (field.bottom, field.top):
            corner = complex(left + x, y)
            small = two_squares(corner, math.hypot(pitch, pitch) / 2 - pitch / 2, 45)
            unit += field.cut(lines(*small, closed=True))
    # The bands: four teeth to a repeat, pointing outwards above and below.
    for foot, tip in ((field.bottom, low), (field.top, high)):
        xs = [left + pitch * k / 8 for k in range(9)]
        points = [complex(x, foot if k % 2 == 0 else tip) for k, x in enumerate(xs)]
        unit.append(lines(*points))
    page.layer("ink")
    page.stamp("repeat", unit)
    for i in range(10):
        page.set_down("repeat", shift=pitch * i)
    right = left + 10 * pitch
    for y in (field.bottom, field.top):
        page.draw(lines(complex(left, y), complex(right, y)))
    page.draw(Window(left, low, right, high).edge())
    return page


def stair_whirl() -> Drawing:
    """Draw whirling leaves and coins, all of arcs (p6).

    Equilateral triangles cover the plane; each side becomes two S-curves of two arcs, a
    full one and a slack one, bent the same way round every corner, so that all mirrors
    are gone and the turns remain. A circle stands on every corner, and in every
    triangle.
    """
    page = Drawing(210, 297, "Stair whirl")
    side = 52.0
    first, second = side + 0j, side * towards(60)
    frame = Window(24, 27, 186, 270)
    origin = 105 + 148.5j
    coin, bead = side / 6, side / 10
    page.layer("ink")
    shapes: list[Stroke] = []
    reach = range(-6, 7)
    for i in reach:
        for j in reach:
            corner = origin + i * first + j * second
            for towards_next in (first, second, second - first):
                shapes.append(s_curve(corner, corner + towards_next, 110))
                shapes.append(s_curve(corner, corner + towards_next, 20))
            shapes.append(full_circle(corner, coin))
            thirds = ((first + second) / 3, (first + second) * 2 / 3)
            shapes += [full_circle(corner + third, bead) for third in thirds]
    for shape in shapes:
        page.draw(*cut_arcs(shape, frame))
    page.draw(frame.edge())
    return page


def s_curve(a: Point, b: Point, degrees: float) -> Stroke:
    """Join two points by two arcs of so many degrees, one bent left and one right."""
    middle = (a + b) / 2
    half = abs(b - a) / 2
    radius = half / 2 / math.sin(math.radians(degrees / 2))
    rise = radius * math.cos(math.radians(degrees / 2))
    along = (b - a) / abs(b - a)
    first = arc(a, middle, (a + middle) / 2 + 1j * along * rise)
    second = arc(middle, b, (middle + b) / 2 - 1j * along * rise, left=False)
    return chain(first, second)


def full_circle(centre: Point, radius: float) -> Stroke:
    """Draw a circle as two half turns."""
    right, left = centre + radius, centre - radius
    return chain(arc(right, left, centre), arc(left, right, centre), closed=True)


def cut_arcs(stroke: Stroke, frame: Window) -> list[Stroke]:
    """Return the parts of a stroke of arcs that lie in the frame."""
    parts: list[Stroke] = []
    start = stroke.start
    whole = True
    for piece in stroke.pieces:
        assert isinstance(piece, Arc)
        centre = arc_centre(start, piece)
        inside = frame.kept_arc(start, piece.end, centre, piece.left)
        whole = whole and len(inside) == 1 and inside[0] == (start, piece.end)
        parts += [arc(p, q, centre, piece.left) for p, q in inside]
        start = piece.end
    return [stroke] if whole else parts


def arc_centre(start: Point, piece: Arc) -> Point:
    """Return the centre of an arc that begins at a point."""
    chord = piece.end - start
    height = math.sqrt(max(piece.radius**2 - abs(chord) ** 2 / 4, 0.0))
    side = 1j * chord / abs(chord)
    return start + chord / 2 + (side if piece.left != piece.large else -side) * height


def worn_patch() -> Drawing:
    """Draw a patch traced in a hurry, with small faults put in on purpose.

    Stars of two squares, each side a line of its own. Three lines stop short (by 0.2,
    0.35 and 0.6 mm), two run past their corner (by 0.4 and 0.8 mm), one is drawn twice,
    and one is drawn again 0.08 mm beside itself.
    """
    page = Drawing(160, 120, "Worn patch")
    pitch, origin = 40.0, 20 + 20j
    window = Window(20, 20, 140, 100)
    sides: dict[tuple[int, int, int, int], tuple[Point, Point]] = {}
    for column in range(3):
        for row in range(2):
            centre = origin + complex(column + 0.5, row + 0.5) * pitch
            tips = divide_circle(centre, pitch / 2, 8, 0)
            for square in range(2):
                for k in range(4):
                    a, b = tips[2 * k + square], tips[(2 * k + 2 + square) % 8]
                    sides[column, row, square, k] = (a, b)

    def longer(which: tuple[int, int, int, int], by: float) -> None:
        a, b = sides[which]
        sides[which] = (a, b + (b - a) / abs(b - a) * by)

    longer((0, 0, 1, 0), -0.2)
    longer((1, 0, 1, 2), -0.35)
    longer((2, 1, 1, 1), -0.6)
    longer((0, 1, 1, 3), 0.4)
    longer((1, 1, 1, 0), 0.8)
    again = [sides[2, 0, 1, 2]]
    a, b = sides[1, 1, 1, 2]
    beside = 1j * (b - a) / abs(b - a) * 0.08
    again.append((a + beside, b + beside))
    page.layer("ink")
    page.draw(*(lines(a, b) for a, b in [*sides.values(), *again]))
    page.draw(window.edge())
    return page


def framed_panel() -> Drawing:
    """Draw a whole panel: field, border with corners, and a medallion laid over.

    Stars and crosses fill the field (p4m); lozenges run along the border; the medallion
    is a circle divided in sixteen (D16), with a ring of wedges.
    """
    page = Drawing(440, 360, "Framed panel")
    pitch, border = 40.0, 40.0
    middle = 220 + 180j
    rim, ring = 80.0, 88.5
    outer = Window(20, 20, 420, 340)
    field = Window(60, 60, 380, 300, middle, ring)
    star = two_squares(0, pitch / 2)
    cell = [lines(*star, closed=True)]
    cell.append(lines(*star_through(star[1::2], 3), closed=True))
    corner_star = complex(pitch / 2, pitch / 2)
    small = two_squares(corner_star, abs(corner_star) - pitch / 2, 45)
    cell.append(lines(*small, closed=True))
    page.layer("field")
    origin = complex(field.left + pitch / 2, field.bottom + pitch / 2)
    page.draw(*repeat(cell, field, pitch, pitch * 1j, origin))
    page.layer("border")
    page.draw(outer.edge(), field.edge())
    half = border / 2
    along_x = [outer.left + border * (k + 1.5) for k in range(8)]
    along_y = [outer.bottom + border * (k + 1.5) for k in range(6)]
    units = [complex(x, y) for y in (40, 320) for x in along_x]
    units += [complex(x, y) for x in (40, 400) for y in along_y]
    for centre in units:
        page.draw(lines(*divide_circle(centre, half, 4, 0), closed=True))
        page.draw(lines(*two_squares(centre, half * 0.55, 22.5), closed=True))
    for x in (40, 400):
        for y in (40, 320):
            centre = complex(x, y)
            square = Window(x - half, y - half, x + half, y + half)
            inward_x = square.right if x < 220 else square.left
            inward_y = square.top if y < 180 else square.bottom
            page.draw(
                lines(complex(inward_x, square.bottom), complex(inward_x, square.top)),
                lines(complex(square.left, inward_y), complex(square.right, inward_y)),
                lines(*two_squares(centre, half), closed=True),
                lines(*star_through(two_squares(centre, half)[1::2], 3), closed=True),
            )
    page.layer("medallion")
    page.circle(middle, rim)
    page.circle(middle, ring)
    page.draw(*polygon_star(middle, rim, 16, 90, 67.5, 3))
    core = polygon_star_notches(middle, rim, 16, 90, 67.5, 3)
    page.draw(lines(*star_through(core, 5), closed=True))
    for inside, outside in zip(
        divide_circle(middle, rim, 32, 90 + 5.625),
        divide_circle(middle, ring, 32, 90 + 5.625),
        strict=True,
    ):
        page.draw(lines(inside, outside))
    return page


def drafting_sheet() -> Drawing:
    """Draw a twelve-point star as it stands on the table, construction and all.

    The layer "construction" holds the circles and spokes, in thin blue; "ink" holds
    the lines to keep.
    """
    page = Drawing(200, 200, "Drafting sheet")
    centre = 100 + 100j
    radius = 78.0
    page.layer("construction", "#5b8fc7", 0.13)
    page.circle(centre, radius)
    rim = divide_circle(centre, radius, 12)
    for point in rim:  # six circles at the same opening divide the first into twelve
        page.circle(point, radius / 4)
    for a, b in zip(rim[:6], rim[6:], strict=True):
        page.draw(lines(a + (a - b) * 0.08, b + (b - a) * 0.08))
    for step in (4, 5):
        page.draw(*(lines(rim[i], rim[(i + step) % 12]) for i in range(12)))
    page.layer("ink")
    page.draw(lines(*divide_circle(centre, radius / cos_deg(15), 12, 105), closed=True))
    page.draw(*polygon_star(centre, radius, 12, 90, 75, 2))
    notches = polygon_star_notches(centre, radius, 12, 90, 75, 2)
    page.draw(lines(*star_through(notches, 4), closed=True))
    return page


def window_seat_tile() -> Drawing:
    """Draw one cell to be laid over a whole panel: a star in its square.

    The layer "construction" holds the square that bounds the cell, in thin blue; the
    figures at its corners run over it, as a compass draws them.
    """
    page = Drawing(100, 100, "Window seat tile")
    centre, pitch = 50 + 50j, 60.0
    page.layer("construction", "#5b8fc7", 0.13)
    corners = [centre + pitch / 2 * (x + 1j * y) for x, y in SQUARE_CORNERS]
    page.draw(lines(*corners, closed=True))
    page.layer("ink")
    star, *rest = eight_point_cell(pitch)
    links, figures = rest[:8], rest[8:]
    for stroke in (star, *links):
        page.draw(stroke.moved(lambda p: p + centre))
    for x, y in SQUARE_CORNERS:
        shift = centre + pitch / 2 * (x - 1 + 1j * (y - 1))
        for stroke in figures:
            page.draw(stroke.moved(lambda p, shift=shift: p + shift))
    return page


SQUARE_CORNERS = ((-1, -1), (1, -1), (1, 1), (-1, 1))


def cos_deg(degrees: float) -> float:
    """Return the cosine of an angle in degrees."""
    return math.cos(math.radians(degrees))


def curling_stems() -> Drawing:
    """Draw stems that spring from a flower and curl, alike left and right (D1)."""
    page = Drawing(340, 210, "Curling stems")
    axis = 170.0
    frame = Window(15, 15, 325, 195)
    flower, flower_radius = complex(axis, 64), 12.0
    right: list[Stroke] = []

    # The main scroll, with the arcs that bring its two edges from the flower.
    edge = scroll(complex(axis + 80, 27), 0, 65, 0.82, left=True)
    inner = edge.smaller(0.89)
    bud, bud_radius = edge.bud(7)
    for spiral, reach in ((edge, 100.0), (inner, 94.0)):
        start = spiral.quarters[0].start
        centre = start + 1j * reach
        on_flower = meet_circles(centre, reach, flower, flower_radius)
        foot = max(on_flower, key=lambda p: p.real)
        stem = spiral.stroke(bud, bud_radius)
        right.append(chain(arc(foot, start, centre), stem))
    right += daisy(bud, bud_radius)
    q, p = edge.quarters, inner.quarters

    # A second scroll leaves it near the top and curls the other way.
    heading = 180 + 8 - 14
    branch = scroll(q[2].at(8), heading, 23, 0.8, left=False)
    narrow = branch.smaller(0.84)
    bud, bud_radius = branch.bud(4)
    right.append(branch.stroke(bud, bud_radius))
    begin, end = q[1].at(72), narrow.quarters[0].start
    pull = 0.4 * abs(end - begin)
    joint = Curve(begin + pull * towards(150), end - pull * towards(heading), end)
    right.append(chain(Stroke(begin, (joint,)), narrow.stroke(bud, bud_radius)))
    right += daisy(bud, bud_radius)
    b = branch.quarters

    # Leaves outside the scrolls, in their windings, and along the stems.
    low = p[0].start
    lead = Quarter(low + 94j + 94 * towards(-120), low, low + 94j, left=True)
    right += leaf_on(q[0], 50, 11, 24, 30, 0.2)
    right += leaf_on(q[1], 33, 9, 21, 10, 0.2, 0.28)
    right += leaf_on(q[1], 62, 10, 36, -6, -0.2, 0.24)
    right += leaf_on(lead, 12, 10, 30, -20, -0.2, inward=True)
    for quarter, degrees, length in (
        (p[0], 12, 27),
        (p[0], 66, 27),
        (p[1], 32, 25),
        (p[1], 86, 22),
        (p[2], 56, 15),
        (p[3], 36, 16),
        (p[4], 26, 12),
    ):
        width = 0.36 * length
        right += leaf_on(quarter, degrees, width, length, -34, 0.16, 0.26, inward=True)
    right += leaf_on(b[0], 62, 9, 26, -8, -0.2)

    # Leaves round the flower; those on the axis are drawn once.
    ring = Quarter(flower + flower_radius, flower - flower_radius, flower, left=True)
    right += leaf_on(ring, 53, 7, 58, 0, -0.16, 0.14)
    right += leaf_on(ring, 13, 7, 32, 6, -0.16, 0.2)
    upright = leaf_on(ring, 90, 8, 76, 0, 0, 0.13)
    upright += leaf_on(ring, 270, 7, 28, 0, 0, 0.18)

    page.layer("ink")

    def flip(point: Point) -> Point:
        return mirrored(point, complex(axis, 0), complex(axis, 1))

    for stroke in right:
        page.draw(stroke, stroke.moved(flip, flips=True))
    page.draw(*upright, *daisy(flower, flower_radius))
    page.draw(*daisy(complex(axis, 171), 10))
    page.draw(frame.edge())
    return page


DRAWINGS: dict[str, Callable[[], Drawing]] = {
    "warm-room-ceiling": warm_room_ceiling,
    "cloakroom-door": cloakroom_door,
    "fountain-medallion": fountain_medallion,
    "bench-border": bench_border,
    "stair-whirl": stair_whirl,
    "worn-patch": worn_patch,
    "framed-panel": framed_panel,
    "drafting-sheet": drafting_sheet,
    "curling-stems": curling_stems,
    "window-seat-tile": window_seat_tile,
}


def main() -> None:
    """Write every drawing into the folder asked for."""
    parser = argparse.ArgumentParser(description="Write the drawings of the demo.")
    parser.add_argument(
        "--out", type=Path, default=Path(__file__).parent / "drawings", help="folder"
    )
    out = parser.parse_args().out
    out.mkdir(parents=True, exist_ok=True)
    for name, build in DRAWINGS.items():
        build().write(out / f"{name}.svg")


if __name__ == "__main__":
    main()
