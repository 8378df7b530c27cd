"""Drawn sheets whose lines and regions are known, as a scanner or a camera sees them.

Everything is our own invention and seeded. Lengths are mm, y up, from the
page's lower left corner. The regions of the truth are shapely's, from the
same lines without any fault of the hand.
"""

from __future__ import annotations

import io
from dataclasses import dataclass, field

import numpy as np
import shapely
from PIL import Image, ImageDraw, ImageFilter
from shapely.geometry import LineString, Point, box

PATTERNS = (
    "stars", "triangles", "flower", "bricks", "rosette", "rings", "rhombi", "blobs",
    "packing", "crosses",
)  # fmt: skip


@dataclass(slots=True)
class Faults:
    """What hand, pencil, paper and camera add; the defaults are a clean scan."""

    width: float = 0.5
    ink: int = 25
    colour: tuple[int, int, int] | None = None
    wobble: float = 0.0
    gaps: float = 0.0
    overshoots: float = 0.0
    pencil: int | None = None
    guide: tuple[int, int, int] | None = None
    grain: float = 2.0
    light: float = 0.0
    tilt: float = 0.0
    lens: float = 0.0
    turn: float = 0.0
    blur: float = 0.5
    noise: float = 2.0
    quality: int = 92


@dataclass(slots=True)
class Sheet:
    """A pattern with its truth."""

    name: str
    page: tuple[float, float]
    lines: list[np.ndarray]
    construction: list[np.ndarray] = field(default_factory=list)
    # lines that are none of the pattern's, each with its width, mm, and its colour
    others: list[tuple[np.ndarray, float, tuple[int, int, int]]] = field(
        default_factory=list
    )
    paint: list[tuple[shapely.Polygon, tuple[int, int, int]]] = field(
        default_factory=list
    )

    def regions(self) -> list[shapely.Polygon]:
        """Return the true regions that show paper between lines 0.5 mm wide."""
        return visible(self.faces())

    def faces(self) -> list[shapely.Polygon]:
        """Return what the lines enclose, ends that miss by 0.01 mm taken for met."""
        drawn = shapely.union_all([LineString(p) for p in self.lines]).buffer(0.01)
        around = shapely.envelope(drawn).buffer(1.0)
        parts = shapely.get_parts(around.difference(drawn))
        return [p for p in parts if not p.intersects(around.exterior)]


def parted(face: shapely.Polygon) -> list[shapely.Polygon]:
    """Return the parts of a true region that the ink of a 0.5 mm pen makes of it.

    Lines nearer to each other than the pen is wide touch on paper: whether they
    were meant to, the sheet does not say. A region that is one or more for that
    counts as right when it is found whole and when it is found in its parts.
    """
    cores = [p for p in shapely.get_parts(face.buffer(-0.25)) if p.area > 0.2]
    if len(cores) < 2:
        return [face]
    return [p.buffer(0.25).intersection(face) for p in cores]


def visible(polygons) -> list[shapely.Polygon]:
    """Return the polygons in which a pen 0.5 mm wide leaves paper to be seen."""
    return [p for p in polygons if p.buffer(-0.45).area > 0.2]


def make_sheet(
    name: str, seed: int, page: tuple[float, float] = (148.0, 210.0)
) -> Sheet:
    """Return one of `PATTERNS` inside a drawn frame."""
    rng = np.random.default_rng(seed)
    w, h = page
    left, low = rng.uniform(14, 20, 2)
    right, high = w - rng.uniform(14, 20), h - rng.uniform(14, 20)
    frame = box(left, low, right, high)
    span = rng.uniform(22, 30)
    middle = np.array([(left + right) / 2, (low + high) / 2])
    shapes = _SHAPES[name](rng, frame, span, middle)
    lines = [frame.exterior]
    for shape in shapes:
        cut = shape.intersection(frame)
        parts = shapely.get_parts(cut)
        lines.extend(p for p in parts if p.geom_type == "LineString" and p.length > 0.3)
    rays = [
        shapely.affinity.rotate(LineString([(0, m), (w, m)]), a, origin=tuple(middle))
        for m in (middle[1],) for a in (0, 45, 90, 135)
    ]  # fmt: skip
    ring = [Point(middle).buffer(r, 64).exterior for r in (span * 0.8, span * 1.3)]
    coords = [np.asarray(shapely.segmentize(x, 1.0).coords) for x in lines]
    guides = [np.asarray(shapely.segmentize(x, 1.0).coords) for x in rays + ring]
    return Sheet(name, page, _whole(coords), guides)


def _whole(parts: list[np.ndarray]) -> list[np.ndarray]:
    """Join a circle's two pieces where the start of its ring cut it."""
    merged = shapely.line_merge(shapely.MultiLineString(parts[1:]))
    found = [np.asarray(g.coords) for g in shapely.get_parts(merged)]
    return [parts[0], *found]


def _over(frame, step, middle):
    x0, y0, x1, y1 = frame.bounds
    nx, ny = int((x1 - x0) / step) + 2, int((y1 - y0) / step) + 2
    for i in range(-nx, nx + 1):
        for j in range(-ny, ny + 1):
            c = middle + step * np.array([i, j])
            if x0 - step < c[0] < x1 + step and y0 - step < c[1] < y1 + step:
                yield c


def _polygon(centre, radius, n, start=0.0, skip=1):
    a = start + 2 * np.pi * skip * np.arange(n + 1) / n
    return LineString(centre + radius * np.c_[np.cos(a), np.sin(a)])


def _circle(centre, radius):
    return Point(centre).buffer(radius, 90).exterior


def _stars(rng, frame, span, middle):
    for c in _over(frame, span, middle):
        a = np.pi / 8 + np.pi / 8 * np.arange(17) * 1.0 - np.pi / 8
        r = np.where(np.arange(17) % 2 == 0, span / 2, span / 2 * 0.62)
        yield LineString(c + r[:, None] * np.c_[np.cos(a), np.sin(a)])


def _triangles(rng, frame, span, middle):
    step = span * 0.6
    for angle in (0, 60, 120):
        for k in range(-14, 15):
            a = np.radians(angle)
            n = np.array([-np.sin(a), np.cos(a)])
            d = np.array([np.cos(a), np.sin(a)])
            p = middle + k * step * n
            yield LineString([p - 400 * d, p + 400 * d])


def _flower(rng, frame, span, middle):
    r = span * 0.75
    for i in range(-5, 6):
        for j in range(-5, 6):
            c = middle + r * np.array([i + j / 2, j * np.sqrt(3) / 2])
            if frame.buffer(r).contains(Point(c)):
                yield _circle(c, r)


def _bricks(rng, frame, span, middle):
    x0, y0, x1, y1 = frame.bounds
    rows = int((y1 - y0) / (span / 2))
    hgt = (y1 - y0) / rows
    for r in range(1, rows):
        yield LineString([(x0, y0 + r * hgt), (x1, y0 + r * hgt)])
    for r in range(rows):
        k = 0.5 if r % 2 else 0.0
        x = x0 + span * (0.6 + k)
        while x < x1 - 2:
            yield LineString([(x, y0 + r * hgt), (x, y0 + (r + 1) * hgt)])
            x += span


def _rosette(rng, frame, span, middle):
    n = int(rng.integers(7, 13))
    big = min(frame.bounds[2] - middle[0], frame.bounds[3] - middle[1]) * 0.92
    yield _circle(middle, big)
    yield _polygon(middle, big, n, 0.1, 2 if n % 2 else 1)
    if n % 2 == 0:
        for half in range(2):
            yield _polygon(middle, big, n // 2, 0.1 + half * 2 * np.pi / n)
    yield _circle(middle, big * 0.3)


def _rings(rng, frame, span, middle):
    big = min(frame.bounds[2] - middle[0], frame.bounds[3] - middle[1]) * 0.95
    radii = big * np.array([0.25, 0.5, 0.75, 1.0])
    for r in radii:
        yield _circle(middle, r)
    n = int(rng.integers(8, 17))
    for a in 0.2 + 2 * np.pi * np.arange(n) / n:
        d = np.array([np.cos(a), np.sin(a)])
        # the circles are polygons of many sides: reach over them
        yield LineString(
            [middle + (radii[0] - 0.05) * d, middle + (radii[-1] + 0.05) * d]
        )


def _rhombi(rng, frame, span, middle):
    step = span * 0.7
    for angle in (20, 75):
        a = np.radians(angle)
        n, d = np.array([-np.sin(a), np.cos(a)]), np.array([np.cos(a), np.sin(a)])
        for k in range(-14, 15):
            p = middle + (k + 0.37) * step * n
            yield LineString([p - 400 * d, p + 400 * d])


def _blobs(rng, frame, span, middle):
    for c in _over(frame, span * 1.3, middle):
        t = np.linspace(0, 2 * np.pi, 181)
        r = span * 0.5 * (1 + 0.22 * np.cos(3 * t + rng.uniform(0, 6)))
        yield LineString(c + r[:, None] * np.c_[np.cos(t), np.sin(t)])


def _packing(rng, frame, span, middle):
    for c in _over(frame, span, middle):
        yield _circle(c, span / 2)


def _crosses(rng, frame, span, middle):
    s = span / 2
    for c in _over(frame, span, middle):
        yield _polygon(c, s, 4)
        # its corners touch the sides of the other
        yield _polygon(c, s * np.sqrt(0.5), 4, np.pi / 4)
        yield _circle(c, s * 0.3)


_SHAPES = {
    "stars": _stars, "triangles": _triangles, "flower": _flower, "bricks": _bricks,
    "rosette": _rosette, "rings": _rings, "rhombi": _rhombi, "blobs": _blobs,
    "packing": _packing, "crosses": _crosses,
}  # fmt: skip


def _drawn(line: np.ndarray, rng, faults: Faults) -> np.ndarray:
    """Return a line as a hand draws it."""
    s = np.r_[0, np.cumsum(np.hypot(*np.diff(line, axis=0).T))]
    closed = np.allclose(line[0], line[-1])
    at = np.arange(0, s[-1], 0.25)
    points = np.c_[np.interp(at, s, line[:, 0]), np.interp(at, s, line[:, 1])]
    # corners stay sharp
    points = np.r_[points, line]
    at = np.r_[at, s]
    order = np.argsort(at, kind="stable")
    points, at = points[order], at[order]
    if not closed:
        ends = rng.random(2) < 0.15
        more = rng.uniform(0.3, 1.0, 2)
        for k, end in enumerate((0, -1)):
            inner = points[1 if end == 0 else -2]
            d = points[end] - inner
            d = d / max(np.hypot(*d), 1e-9)
            if faults.overshoots and ends[k]:
                points[end] = points[end] + d * more[k] * faults.overshoots
            elif faults.gaps and rng.random() < 0.06:
                short = more[k] * faults.gaps
                keep = at >= short if end == 0 else at <= s[-1] - short
                if keep.sum() > 4:
                    points, at = points[keep], at[keep]
    if faults.wobble:
        knots = np.arange(0, s[-1] + 8, 4.0)
        for axis in (0, 1):
            wave = rng.normal(0, faults.wobble / 2, len(knots))
            wave = np.clip(wave, -faults.wobble, faults.wobble)
            if closed:
                wave[-3:] = wave[0]
            points[:, axis] += np.interp(at, knots, np.convolve(
                np.pad(wave, 1, mode="edge"), [0.25, 0.5, 0.25], "valid"))  # fmt: skip
    return points


def draw(sheet: Sheet, faults: Faults, seed: int, dpi: float = 300.0) -> Image.Image:
    """Return the flat sheet as RGB at that resolution, before any camera."""
    rng = np.random.default_rng(seed)
    scale = 2 * dpi / 25.4
    # even, or the halved picture would show more than the page
    size = tuple(2 * round(v * scale / 2) for v in sheet.page)

    def layer(lines, width, pressed, area=None):
        image = Image.new("L", size, 0)
        pen = ImageDraw.Draw(image)

        def px(line):
            return np.c_[line[:, 0], sheet.page[1] - line[:, 1]] * scale - 0.5

        if area is not None:
            pen.polygon([tuple(p) for p in px(area)], fill=pressed)
        for line in lines:
            xy = px(line)
            pen.line([tuple(p) for p in xy], fill=pressed, width=round(width * scale),
                     joint="curve")  # fmt: skip
            r = width * scale / 2
            for x, y in (xy[0], xy[-1]):
                pen.ellipse([x - r, y - r, x + r, y + r], fill=pressed)
        return np.asarray(image.reduce(2), dtype=np.float32) / 255.0

    ink = layer([_drawn(p, rng, faults) for p in sheet.lines], faults.width, 255)
    h, w = ink.shape
    paper = np.full((h, w), 246.0, np.float32)
    coarse = Image.fromarray(rng.normal(0, 1, (h // 6 + 2, w // 6 + 2)).astype("f4"))
    grain = np.asarray(coarse.resize((w, h), Image.Resampling.BICUBIC))
    paper += faults.grain * grain
    rgb = np.repeat(paper[:, :, None], 3, 2)
    if faults.pencil is not None:
        lead = layer(sheet.construction, 0.35, 255) * (0.75 + 0.15 * grain)
        rgb += np.clip(lead, 0, 1)[:, :, None] * (faults.pencil - rgb)
    if faults.guide is not None:
        mark = layer(sheet.construction, 0.35, 255)
        rgb += mark[:, :, None] * (np.array(faults.guide, np.float32) - rgb)
    for shape, colour in sheet.paint:
        laid = layer([], 0.0, 255, np.asarray(shape.exterior.coords))
        rgb = np.minimum(rgb, rgb + laid[:, :, None] * (np.array(colour) - rgb))
    for line, width, colour in sheet.others:
        rgb += layer([line], width, 255)[:, :, None] * (np.array(colour) - rgb)
    tone = np.array(faults.colour or (faults.ink,) * 3, np.float32)
    rgb += ink[:, :, None] * (tone - rgb) * (0.97 + 0.02 * grain[:, :, None])
    return Image.fromarray(np.clip(rgb, 0, 255).astype(np.uint8))


def _shade(rgb: np.ndarray, rng, strength: float) -> np.ndarray:
    h, w = rgb.shape[:2]
    y, x = np.mgrid[0:h, 0:w].astype(np.float32)
    x, y = x / w - 0.5, y / h - 0.5
    a = rng.uniform(0, 2 * np.pi)
    field_ = (
        1
        - strength * (0.5 + np.cos(a) * x + np.sin(a) * y)
        - strength * (x * x + y * y)
    )
    return rgb * field_[:, :, None]


def scan(sheet: Sheet, faults: Faults, seed: int, dpi: int = 300) -> bytes:
    """Return a scan, PNG with its resolution."""
    rng = np.random.default_rng(seed + 1)
    image = draw(sheet, faults, seed, dpi)
    if faults.turn:
        image = image.rotate(
            faults.turn, Image.Resampling.BICUBIC, fillcolor=(246,) * 3
        )
    image = image.filter(ImageFilter.GaussianBlur(faults.blur))
    rgb = np.asarray(image, np.float32)
    if faults.light:
        rgb = _shade(rgb, rng, faults.light)
    rgb = rgb + rng.normal(0, faults.noise, rgb.shape[:2])[:, :, None]
    out = io.BytesIO()
    Image.fromarray(np.clip(rgb, 0, 255).astype(np.uint8)).save(
        out, "PNG", dpi=(dpi, dpi), compress_level=1
    )
    return out.getvalue()


def photo(
    sheet: Sheet, faults: Faults, seed: int, size=(2250, 3000)
) -> tuple[bytes, np.ndarray]:
    """Return a photograph (JPEG) and the sheet's true corners, px, clockwise.

    The sheet lies on a darker table; the camera is tilted by `faults.tilt` degrees.
    """
    rng = np.random.default_rng(seed + 2)
    flat = draw(sheet, faults, seed)
    pw, ph = sheet.page
    # camera: rotate the plane about its middle, then project
    tx, ty, tz = np.radians(faults.tilt) * rng.uniform(-1, 1, 3) * (1, 1, 0.25)
    rx = np.array(
        [[1, 0, 0], [0, np.cos(tx), -np.sin(tx)], [0, np.sin(tx), np.cos(tx)]]
    )
    ry = np.array(
        [[np.cos(ty), 0, np.sin(ty)], [0, 1, 0], [-np.sin(ty), 0, np.cos(ty)]]
    )
    rz = np.array(
        [[np.cos(tz), -np.sin(tz), 0], [np.sin(tz), np.cos(tz), 0], [0, 0, 1]]
    )
    away = 1.6 * max(pw, ph)
    f = 0.76 * min(size[0] / pw, size[1] / ph) * away
    turn = rz @ rx @ ry
    k = np.array([[f, 0, size[0] / 2], [0, f, size[1] / 2], [0, 0, 1]])
    to_camera = k @ np.c_[turn[:, :2], turn @ [-pw / 2, -ph / 2, 0] + [0, 0, away]]
    corners = np.array([[0, 0], [pw, 0], [pw, ph], [0, ph]])
    seen = np.c_[corners, np.ones(4)] @ to_camera.T
    seen = seen[:, :2] / seen[:, 2:]
    dpmm = 300 / 25.4
    back = np.linalg.inv(to_camera)
    back = np.diag([dpmm, dpmm, 1]) @ back
    # pixel centres: PIL maps the middle of each output pixel
    back /= back[2, 2]
    sheet_rgb = flat.transform(
        size,
        Image.Transform.PERSPECTIVE,
        tuple(back.ravel()[:8]),
        Image.Resampling.BICUBIC,
    )
    inside = Image.new("L", size, 0)
    ImageDraw.Draw(inside).polygon([tuple(c - 0.5) for c in seen], fill=255)
    grain = rng.normal(0, 1, (size[1] // 12 + 1, size[0] // 12 + 1)).astype("f4")
    table = np.asarray(Image.fromarray(grain).resize(size, Image.Resampling.BICUBIC))
    wood = np.array([112, 84, 60], np.float32) + 9 * table[:, :, None]
    mask = (
        np.asarray(inside.filter(ImageFilter.GaussianBlur(0.7)), np.float32)[:, :, None]
        / 255
    )
    rgb = np.asarray(sheet_rgb, np.float32) * mask + wood * (1 - mask)
    rgb = _shade(rgb, rng, faults.light)
    image = Image.fromarray(np.clip(rgb, 0, 255).astype(np.uint8))
    if faults.lens:
        image, seen = _bend(image, seen, faults.lens)
    image = image.filter(ImageFilter.GaussianBlur(faults.blur))
    rgb = np.asarray(image, np.float32) + rng.normal(
        0, faults.noise, (size[1], size[0], 1)
    )
    out = io.BytesIO()
    Image.fromarray(np.clip(rgb, 0, 255).astype(np.uint8)).save(
        out, "JPEG", quality=faults.quality
    )
    return out.getvalue(), seen


def _bend(image, corners, k):
    """Barrel distortion r' = r (1 - k r²), r in half diagonals."""
    from scipy.ndimage import map_coordinates

    w, h = image.size
    c, half = np.array([w / 2, h / 2]), np.hypot(w, h) / 2
    y, x = np.mgrid[0:h, 0:w].astype(np.float32)
    x, y = (x + 0.5 - c[0]) / half, (y + 0.5 - c[1]) / half
    r2 = x * x + y * y
    grow = 1 + k * r2
    src = [(y * grow) * half + c[1] - 0.5, (x * grow) * half + c[0] - 0.5]
    rgb = np.asarray(image)
    out = np.stack(
        [map_coordinates(rgb[..., n], src, order=1, mode="nearest") for n in range(3)],
        2,
    )
    q = (corners - c) / half
    p = q.copy()
    for _ in range(20):
        p = q / (1 + k * (p**2).sum(1, keepdims=True))
    return Image.fromarray(out), p * half + c
