# ruff: noqa: E501
"""Drawings as they occur: pages, styles, copies, clips, choices, encodings."""

from __future__ import annotations

import gzip
import hashlib

import numpy as np
import pytest

from fillwork.errors import LineWorkError
from fillwork.geometry.curves import ARC, CUBIC
from fillwork.printing import find_control
from fillwork.readers import read_linework

PX = 25.4 / 96
# one user unit is one mm, 100 mm square
MM = (
    '<svg xmlns="http://www.w3.org/2000/svg" width="100mm" height="100mm" '
    'viewBox="0 0 100 100" fill="none" stroke="#000">'
)


def read(body: str, head: str = MM, **choice):
    return read_linework(f"{head}{body}</svg>".encode(), **choice)


def ends(work):
    """Start and end of each curve with y down again, as drawn."""
    out = np.concatenate([work.curves.starts(), work.curves.ends()], axis=1)
    out[:, [1, 3]] = work.frame.height - out[:, [1, 3]]
    return np.round(out, 6).tolist()


def types(work):
    return [note.type for note in work.notes]


class TestPage:
    def test_physical_size_with_view_box(self):
        work = read('<line x1="10" y1="20" x2="30" y2="20"/>')
        assert work.curves.data[0, :4].tolist() == pytest.approx([10, 80, 30, 80])
        assert (work.frame.width, work.frame.height) == pytest.approx((100, 100))
        assert work.frame.scale_known
        assert work.frame.source_unit == "mm"
        x, y = 10, 20
        a, b, c, d, e, f = work.frame.to_mm
        assert (a * x + c * y + e, b * x + d * y + f) == pytest.approx((10, 80))

    def test_view_box_only(self):
        head = '<svg viewBox="0 0 96 192" stroke="#000">'
        work = read('<path d="M0 0L96 192"/>', head)
        assert (work.frame.width, work.frame.height) == pytest.approx((25.4, 50.8))
        assert not work.frame.scale_known
        assert work.frame.has_page
        assert "no physical size" in types(work)

    def test_one_side_only_keeps_the_shape_of_the_view_box(self):
        head = '<svg width="50mm" viewBox="0 0 100 200" stroke="#000">'
        work = read('<path d="M0 0L100 200"/>', head)
        assert (work.frame.width, work.frame.height) == pytest.approx((50, 100))

    @pytest.mark.parametrize("size", ["", 'width="100%" height="100%"', 'width="50"'])
    def test_without_a_page_the_lines_are_the_page(self, size):
        work = read('<path d="M50 60h20v10z"/>', f'<svg {size} stroke="#000">')
        assert not work.frame.has_page
        assert work.frame.width == pytest.approx(20 * PX)
        assert work.curves.starts().min(axis=0) == pytest.approx([0, 0])
        assert "no page" in types(work)

    def test_box_of_curves_is_exact(self):
        work = read('<circle cx="7" cy="9" r="5"/>', '<svg stroke="#000">')
        assert work.frame.width == pytest.approx(10 * PX)
        work = read('<path d="M0 0C0 40 30 40 30 0"/>', '<svg stroke="#000">')
        assert work.frame.height == pytest.approx(30 * PX)

    def test_lines_are_cut_at_the_page(self):
        work = read('<path d="M-50 50H150M20 20h5M200 0v9"/>')
        assert sorted(ends(work)) == [[0, 50, 100, 50], [20, 20, 25, 20]]
        assert "cut lines" in types(work)
        assert "outside the page" in types(work)

    def test_curves_are_cut_exactly(self):
        work = read('<circle cx="0" cy="50" r="20"/>')
        # a circle begins at its right
        assert work.curves.kind.tolist() == [ARC, ARC]
        np.testing.assert_allclose(work.curves.data[:, 2:6], [[20, 0, 0, -20]] * 2)
        assert ends(work) == [[20, 50, 0, 70], [0, 30, 20, 50]]
        bent = read('<path d="M50 50C150 50 150 80 50 80"/>')
        assert bent.curves.kind.tolist() == [CUBIC] * 2
        # B_x = 50 + 300 t (1 - t) reaches the edge where 6 t (1 - t) = 1
        root = np.sqrt(1 / 3)
        for k, t in ((0, (1 - root) / 2), (1, (1 + root) / 2)):
            y = 50 * (1 - t) ** 2 * (1 + 2 * t) + 80 * t * t * (3 - 2 * t)
            inner = (2, 3) if k == 0 else (0, 1)
            assert [ends(bent)[k][i] for i in inner] == pytest.approx([100, y])

    def test_a_frame_on_the_edge_stays_whole(self):
        work = read('<rect width="100" height="100"/>')
        assert len(work.curves) == 4
        assert work.closed.tolist() == [True]

    def test_viewport_not_view_box_cuts(self):
        # a view box of half the width stands in the middle of the page
        head = MM.replace("0 0 100 100", "0 0 50 100")
        assert ends(read('<path d="M-40 5H90"/>', head)) == [[0, 5, 100, 5]]


class TestShapes:
    def test_every_shape(self):
        work = read(
            '<line x2="9" y2="9"/><polyline points="1,1 5,1 5,5"/>'
            '<polygon points="1 1,5 1 5 5"/><rect width="9" height="9"/>'
            '<circle r="5" cx="9" cy="9"/><ellipse rx="5" ry="3" cx="9" cy="9"/>'
            '<path d="M1 1L2 2M3 3L4 4L5 3z"/>'
        )
        names = [stroke.source[0] for stroke in work.strokes()]
        assert names == [
            "line", "polyline", "polygon", "rect", "circle", "ellipse", "path", "path",
        ]  # fmt: skip
        assert np.diff(work.stroke_start).tolist() == [1, 2, 3, 4, 1, 1, 1, 3]
        closed = [False, False, True, True, True, True, False, True]
        assert work.closed.tolist() == closed

    def test_what_the_standard_does_not_draw(self):
        nothing = (
            '<circle/><circle r="-1"/><rect width="5"/><rect width="-5" height="5"/>'
            '<ellipse rx="0" ry="5"/><polyline points=""/><path/><path d=""/>'
            '<path d="none"/><line x1="3" x2="3"/><path d="M3 3z"/>'
        )
        assert len(read(f"{nothing}<path d='M0 0L1 1'/>").curves) == 1

    def test_odd_points_are_drawn_up_to_the_error(self):
        assert len(read('<polyline points="1 1 5 1 5 5 7"/>').curves) == 2
        assert len(read('<polygon points="1,1, 5,1, 5,5,"/>').curves) == 3

    def test_an_ellipse_with_one_radius_is_round(self):
        data = read('<ellipse cx="9" cy="9" rx="5"/>').curves.data
        assert np.abs(data[0, [2, 5]]).tolist() == [5, 5]


class TestStyle:
    @pytest.mark.parametrize(
        "hidden",
        [
            'stroke="none"', 'style="stroke:none"', 'display="none"', 'opacity="0"',
            'visibility="hidden"', 'style="display:none"', 'stroke-opacity="0"',
            'stroke-width="0"', 'stroke="transparent"', 'stroke="rgba(0,0,0,0)"',
            'style="stroke-opacity:0%"', 'stroke="#0000"',
        ],
    )  # fmt: skip
    def test_what_is_not_seen_is_left_out(self, hidden):
        work = read(f'<path d="M0 0L1 1" {hidden}/><path d="M5 5L9 9"/>')
        assert ends(work) == [[5, 5, 9, 9]]
        work = read(f'<g {hidden}><path d="M0 0L1 1"/></g><path d="M5 5L9 9"/>')
        assert ends(work) == [[5, 5, 9, 9]]

    def test_visible_inside_hidden(self):
        work = read(
            '<g visibility="hidden"><path visibility="visible" d="M0 0L9 9"/></g>'
        )
        assert len(work.curves) == 1
        with pytest.raises(LineWorkError):
            read('<g display="none"><path display="inline" d="M0 0L9 9"/></g>')

    @pytest.mark.parametrize(
        "sheet",
        [
            "path{stroke:#f00}", ".a{stroke:#f00}", "#p{stroke:#f00}", "*{stroke:red}",
            "g .a{stroke:red}", "g>path{stroke:rgb(255,0,0)}", "g path.a.b{stroke:red}",
            "[d]{stroke:hsl(0 100% 50%)}", "path:first-child{stroke:red}",
            "rect,.b{stroke:#F00}", "title + path{stroke:blue} .a{stroke:red}",
            "@media screen{.a{stroke:red}} @media print{.a{stroke:blue}}",
            "/* } */ .a /* x */ {stroke:red;;fill:url(data:x;y)}",
            "<!-- .a{stroke:red} -->", "@import url(x.css); .a{stroke:red}",
            ".a{stroke:red} .a:hover{stroke:blue}", "svg|path, path{stroke:red}",
            ".a{stroke:red!important} #p{stroke:blue}", ".a.b{stroke:red} .a{stroke:blue}",
            "path{stroke:blue} .a{stroke:red} path{stroke:lime}",
            ".a{stroke:currentColor;color:red}", "[class~='b']{stroke:red}",
            "@font-face{font-family:x;src:url(y)} .a{stroke:red}",
            ".a:not(.c, rect){stroke:red} .a:not(.b){stroke:blue}",
            ".a:not(#q){stroke:red} .a.b{stroke:blue}",
            ":root{--k:var(--m, #f00)} .a{stroke:var(--k)}",
            "g{--k:blue;stroke:red} .a{--k:var(--k);stroke:var(--k)}",
            ":root{--k:var(--m)} .a{stroke:var(--k, #f00)}",
            ".a{--k:var(--q);--q:var(--k);stroke:var(--k, red)}",
            "g{stroke:red} .a{stroke:var(--m)}",
        ],
    )  # fmt: skip
    def test_style_sheets(self, sheet):
        work = read(
            f"<style>{sheet.replace('<', '&lt;')}</style>"
            '<g><path id="p" class="a b" d="M0 0L9 9"/></g>'
        )
        assert work.styles[int(work.style[0])][1] == "#ff0000"

    def test_the_order_of_the_cascade(self):
        def colour(attributes: str, sheet: str) -> str | None:
            work = read(f'<style>{sheet}</style><path {attributes} d="M0 0L9 9"/>')
            return work.styles[int(work.style[0])][1]

        assert colour('stroke="blue"', "path{stroke:red}") == "#ff0000"
        assert colour('style="stroke:blue"', "path{stroke:red}") == "#0000ff"
        assert colour('style="stroke:blue"', "path{stroke:red!important}") == "#ff0000"
        both = 'style="stroke:blue ! important"'
        assert colour(both, "path{stroke:red!important}") == "#0000ff"

    def test_a_sheet_at_the_end_counts(self):
        work = read('<path class="a" d="M0 0L9 9"/><style>.a{stroke:red}</style>')
        assert work.styles[0][1] == "#ff0000"

    def test_widths_follow_the_transform(self):
        work = read('<path stroke-width="2" transform="scale(3)" d="M0 0L9 9"/>')
        assert work.styles[0][2] == pytest.approx(6)
        fixed = 'vector-effect="non-scaling-stroke" stroke-width="2"'
        work = read(f'<path {fixed} transform="scale(3)" d="M0 0L9 9"/>')
        assert work.styles[0][2] == pytest.approx(2 * PX, rel=1e-3)
        work = read('<path stroke-width="1%" d="M0 0L9 9"/>')
        assert work.styles[0][2] == pytest.approx(1)

    def test_dashes(self):
        work = read('<path stroke-dasharray="2 1" d="M0 0L9 9"/><path d="M0 9L9 0"/>')
        assert [work.styles[k][3] for k in work.style.tolist()] == [True, False]

    def test_geometry_and_transform_from_css(self):
        work = read(
            "<style>circle{r:4px;cx:10px;cy:10px} path{d:path('M1 1L3 3');"
            "transform:translate(10px,2mm) rotate(0.25turn)}</style><circle/><path/>"
        )
        assert np.abs(work.curves.data[0, 2]) == pytest.approx(4)
        two = 2 * 96 / 25.4
        assert ends(work)[1] == pytest.approx([9, two + 1, 7, two + 3], abs=1e-5)


class TestCopies:
    def test_use_of_shape_and_symbol(self):
        work = read(
            '<defs><path id="p" d="M0 0L5 5"/></defs><use href="#p" x="10" y="20"/>'
            '<use xlink:href="#p" transform="scale(2)"/>'
            '<symbol id="s" viewBox="0 0 10 10"><path d="M0 0L10 10"/></symbol>'
            '<use href="#s" x="50" y="50" width="20" height="20"/>'
        )
        assert ends(work) == [[10, 20, 15, 25], [0, 0, 10, 10], [50, 50, 70, 70]]

    def test_use_before_its_target_and_inheritance(self):
        work = read(
            '<use href="#p" stroke="red"/><use href="#p" stroke="blue"/>'
            '<defs><path id="p" d="M0 0L5 5"/></defs>'
        )
        assert [work.styles[k][1] for k in work.style.tolist()] == [
            "#ff0000",
            "#0000ff",
        ]

    def test_nested_viewports_lay_out_and_clip(self):
        work = read(
            '<svg x="10" y="10" width="20" height="20" viewBox="0 0 2 2">'
            '<path d="M-1 1H3"/></svg>'
            '<svg x="10" y="50" width="20" height="20" viewBox="0 0 2 2" '
            'overflow="visible"><path d="M-1 1H3"/></svg>'
        )
        assert ends(work) == [[10, 20, 30, 20], [0, 60, 40, 60]]

    def test_what_is_never_drawn(self):
        parts = "".join(
            f'<{tag} id="{tag}"><path d="M0 0L9 9"/></{tag}>'
            for tag in (
                "defs",
                "symbol",
                "clipPath",
                "mask",
                "marker",
                "pattern",
                "metadata",
                "desc",
                "unknown",
                "x:y",
            )
        )
        assert ends(read(f'{parts}<path d="M5 5L6 6"/>')) == [[5, 5, 6, 6]]

    def test_switch_draws_one(self):
        work = read(
            '<switch><path requiredExtensions="http://x" d="M0 0L9 9"/>'
            '<g systemLanguage="xx"><path d="M0 0L9 9"/></g>'
            '<g><path d="M1 1L2 2"/><path d="M3 3L4 4"/></g><path d="M0 0L9 9"/></switch>'
        )
        assert ends(work) == [[1, 1, 2, 2], [3, 3, 4, 4]]


class TestMasks:
    LINE = '<g mask="url(#m)"><path d="M0 50H100"/></g>'
    SHEET = '<rect width="100" height="100" stroke="none" fill="{}"/>'

    @pytest.mark.parametrize(
        ("mask", "inside", "left"),
        [
            ("", 'fill="white" stroke="none"', [20, 50]),
            ("", 'fill="#aaa" stroke="none"', [20, 50]),
            ("", 'fill="black" stroke="none"', None),
            ('mask-type="alpha"', 'fill="black" stroke="none"', [20, 50]),
            ('style="mask-type: alpha"', 'stroke="none" fill="#123"', [20, 50]),
            # where edges are soft, or a line's, the whole is kept and told
            ("", 'fill="white" fill-opacity=".5" stroke="none"', "told"),
            ("", 'fill="white"', "told"),
        ],
    )
    def test_hard_masks_cut(self, mask, inside, left):
        box = f'<rect x="20" y="20" width="30" height="60" {inside}/>'
        body = f'<mask id="m" {mask}>{box}</mask>{self.LINE}'
        if left is None:
            with pytest.raises(LineWorkError, match="outside"):
                read(body)
            return
        work = read(body)
        cut = left != "told"
        assert ends(work) == [[left[0], 50, left[1], 50] if cut else [0, 50, 100, 50]]
        assert ("not understood" in types(work)) != cut

    def test_dark_under_light_and_light_under_dark(self):
        box = '<rect x="20" y="20" width="30" height="60" stroke="none" fill="{}"/>'
        for ground, shape, cut in (("black", "white", True), ("white", "black", False)):
            mask = self.SHEET.format(ground) + box.format(shape)
            work = read(f'<mask id="m">{mask}</mask>{self.LINE}')
            assert ends(work) == [[20, 50, 50, 50] if cut else [0, 50, 100, 50]]

    def test_paint_comes_from_where_a_mask_stands(self):
        box = '<rect x="20" y="20" width="30" height="60"/>'
        work = read(
            f'<g fill="#fff" stroke="none"><mask id="m">{box}</mask></g>{self.LINE}'
        )
        assert ends(work) == [[20, 50, 50, 50]]

    def test_boxes_of_masks(self):
        box = '<rect x=".25" y="-2" width=".5" height="4" stroke="none" fill="white"/>'
        work = read(
            f'<mask id="m" maskContentUnits="objectBoundingBox">{box}</mask>'
            '<path mask="url(#m)" d="M10 50H90V60"/>'
        )
        assert ends(work) == [[30, 50, 70, 50]]
        sheet = self.SHEET.format("white")
        work = read(
            f'<mask id="m" maskUnits="userSpaceOnUse" x="10" y="0" width="50%" '
            f'height="100">{sheet}</mask>{self.LINE}'
        )
        assert ends(work) == [[10, 50, 60, 50]]

    def test_a_mask_in_itself_ends(self):
        sheet = self.SHEET.format("white")
        work = read(f'<mask id="m"><g mask="url(#m)">{sheet}</g></mask>{self.LINE}')
        assert ends(work) == [[0, 50, 100, 50]]


class TestClips:
    def test_round_and_nested_clips(self):
        clip = '<clipPath id="c"><circle cx="50" cy="50" r="20"/></clipPath>'
        work = read(f'{clip}<g clip-path="url(#c)"><path d="M0 50H100"/></g>')
        assert ends(work) == [[30, 50, 70, 50]]
        clip += (
            '<clipPath id="d" clip-path="url(#c)"><rect width="50" height="100"/>'
            "</clipPath>"
        )
        work = read(f'{clip}<path style="clip-path:url(\'#d\')" d="M0 50H100"/>')
        assert ends(work) == [[30, 50, 50, 50]]

    def test_clip_in_units_of_the_box(self):
        work = read(
            '<clipPath id="c" clipPathUnits="objectBoundingBox">'
            '<rect x=".25" width=".5" height="1"/></clipPath>'
            '<path clip-path="url(#c)" transform="translate(10)" d="M0 0H40V10"/>'
        )
        assert ends(work) == [[20, 0, 40, 0]]

    def test_a_group_clipped_in_units_of_its_box(self):
        # the box of all that the group holds, a part with a clip of its own included
        work = read(
            '<clipPath id="c" clipPathUnits="objectBoundingBox">'
            '<rect x=".25" width=".5" height="1"/></clipPath>'
            '<clipPath id="d"><rect width="30" height="100"/></clipPath>'
            '<g clip-path="url(#c)"><path d="M0 0H20V10"/>'
            '<path clip-path="url(#d)" d="M10 5H40"/></g>'
        )
        assert ends(work) == [[10, 0, 20, 0], [20, 0, 20, 10], [10, 5, 30, 5]]

    def test_clips_on_what_a_clip_holds(self):
        clips = (
            '<clipPath id="a"><rect y="-9" width="60" height="100" clip-path="{}"/>'
            '</clipPath><clipPath id="b"><rect x="20" width="90" height="100"/></clipPath>'
        )
        line = '<path clip-path="url(#a)" d="M0 50H100"/>'
        assert ends(read(clips.format("url(#b)") + line)) == [[20, 50, 60, 50]]
        assert ends(read(clips.format("url(#a)") + line)) == [[0, 50, 60, 50]]
        two = (
            '<clipPath id="a"><rect width="60" height="100" clip-path="url(#b)"/>'
            '<rect width="9" height="9"/></clipPath><clipPath id="b"/>'
        )
        told = read(two + line).notes
        assert any("clipped one by one" in note.text for note in told)

    def test_a_line_that_touches_a_round_clip_is_outside(self):
        work = read(
            '<clipPath id="c"><circle cx="50" cy="50" r="20"/></clipPath>'
            '<g clip-path="url(#c)"><path d="M0 30H100M30 0V100M0 50H100"/></g>'
        )
        assert ends(work) == [[30, 50, 70, 50]]

    def test_rules_of_clips(self):
        star = "M50 0L80 95L2 36H98L20 95z"
        for rule, pieces in (("nonzero", 1), ("evenodd", 2)):
            work = read(
                f'<clipPath id="c"><path clip-rule="{rule}" d="{star}"/></clipPath>'
                '<path clip-path="url(#c)" d="M0 50H100"/>'
            )
            assert len(work.curves) == pieces

    def test_lines_on_the_edge_of_a_clip_stay(self):
        # a square turned by 30 degrees, its corners written with six figures: its own
        # sides are half seen, wherever the last figure falls
        work = read(
            '<clipPath id="c"><path d="M40.3 10L74.9410 30L54.9410 64.6410L20.3 '
            '44.6410z"/></clipPath><g clip-path="url(#c)"><path transform='
            '"translate(40.3 10)rotate(30)" d="M0 0H40M0 0V40M40 0V40M0 40H40"/></g>'
        )
        assert work.curves.lengths() == pytest.approx([40] * 4, abs=1e-3)

    def test_an_empty_clip_hides(self):
        work = read(
            '<clipPath id="c"/><path clip-path="url(#c)" d="M0 0H9"/><path d="M1 1L2 2"/>'
        )
        assert ends(work) == [[1, 1, 2, 2]]

    def test_a_clip_bounds_the_fill_that_it_cuts(self):
        work = read(
            '<clipPath id="c"><rect x="20" y="20" width="20" height="20"/></clipPath>'
            '<circle clip-path="url(#c)" fill="red" stroke="none" cx="30" cy="30" r="40"/>'
        )
        assert len(work.curves) == 4
        assert work.scope == "outlines"


class TestChoice:
    DRAWING = (
        '<g id="frame" stroke="red"><path d="M0 0H90"/></g>'
        '<g inkscape:label="pattern"><path class="fine dark" stroke-width=".2" '
        'd="M0 10H90"/><g id="inner"><path id="x" d="M0 20H90"/></g></g>'
        '<path stroke-dasharray="1" stroke="#00f" d="M0 30H90"/>'
    )

    @pytest.mark.parametrize(
        ("lines", "heights"),
        [
            (("layer=frame",), [0]), (("layer=pattern",), [10, 20]),
            (("colour=#F00",), [0]), (("colour=blue",), [30]), (("class=dark",), [10]),
            (("id=x",), [20]), (("id=inner",), [20]), (("width<0.3",), [10]),
            (("width>0.3mm",), [0, 20, 30]), (("dash=yes",), [30]),
            (("dash=no, layer=pattern",), [10, 20]), (("layer=pattern,width<0.3",), [10]),
            (("id=x", "dash=yes"), [20, 30]), (("width=1",), [0, 20, 30]),
        ],
    )  # fmt: skip
    def test_lines_and_leave(self, lines, heights):
        work = read(self.DRAWING, lines=lines)
        assert [row[1] for row in ends(work)] == heights
        rest = read(self.DRAWING, leave=lines)
        assert [row[1] for row in ends(rest)] == sorted({0, 10, 20, 30} - {*heights})

    @pytest.mark.parametrize(
        ("colour", "reach", "choice", "taken"),
        [
            ("#00f", 30, {}, False),
            # the lines' own colour, and more of them than of whole lines
            ("#000", 30, {}, True),
            ("#00f", 90, {}, True),
            ("#00f", 30, {"lines": ("dash=yes", "dash=no")}, True),
            ("#00f", 30, {"leave": ("id=none",)}, True),
        ],
    )
    def test_dashed_guides_are_left_out_and_told(self, colour, reach, choice, taken):
        guides = f'<path stroke-dasharray="2" stroke="{colour}" d="M0 5H{reach}"/>'
        work = read(f'<path d="M0 0H40"/>{guides}', **choice)
        assert work.stroke_count == 1 + taken
        (note,) = [note for note in work.notes if note.type == "dashed"]
        assert "dash=yes" in note.remedy

    def test_a_line_that_is_filled_shows_nothing(self):
        # a path has a black fill unless it says otherwise
        flat = '<path fill="#000" stroke="none" d="M0 30L10 40L30 60"/>'
        work = read(f'<path d="M0 0H10"/>{flat}')
        assert (work.scope, work.stroke_count) == ("stroked", 1)
        bent = flat.replace("60", "61")
        assert read(f'<path d="M0 0H10"/>{bent}').stroke_count == 2
        assert read(flat).stroke_count == 1

    @pytest.mark.parametrize(("side", "scope"), [(1.0, "stroked"), (4.0, "both")])
    def test_small_fills_beside_long_strokes(self, side, scope):
        # strokes of 160 mm; two squares clear of them, with edges of 8 or 32 mm
        squares = "".join(
            f'<rect x="{x}" y="60" width="{side}" height="{side}" fill="red" stroke="none"/>'
            for x in (10, 40)
        )
        work = read(f'<path fill="none" d="M5 5h80v40"/><path d="M5 20h40"/>{squares}')
        assert work.scope == scope

    def test_fills_under_strokes_are_seen_as_strokes(self):
        # each square is filled by one shape and stroked by another
        both = "".join(
            f'<rect x="{x}" y="5" width="20" height="20" fill="red" stroke="none"/>'
            f'<rect x="{x}" y="5" width="20" height="20" fill="none"/>'
            for x in (5, 35, 65)
        )
        work = read(both)
        assert work.scope == "stroked"
        assert work.stroke_count == 3

    def test_groups_list_what_was_seen(self):
        work = read(self.DRAWING, leave=("dash=yes",))
        found = {
            (g.layer, g.colour, g.width, g.dash, g.count, g.used) for g in work.groups
        }
        assert found == {
            ("frame", "#ff0000", 1.0, False, 1, True),
            ("pattern", "#000000", 0.2, False, 1, True),
            ("pattern", "#000000", 1.0, False, 1, True),
            (None, "#0000ff", 1.0, True, 1, False),
        }
        assert all(g.length == pytest.approx(90) for g in work.groups)

    def test_scope(self):
        body = (
            '<rect x="5" y="5" width="20" height="20" fill="red"/>'
            '<rect x="50" y="5" width="20" height="20" fill="red" stroke="none"/>'
            '<path d="M5 60h40v20" fill="red" stroke="none"/>'
        )
        assert read(body).scope == "both"
        assert "scope" in types(read(body))
        assert read(body).stroke_count == 3
        outlines = read(body, scope="outlines")
        assert outlines.stroke_count == 3
        assert outlines.closed.all()
        assert len(outlines.curves) == 11
        assert read(body, scope="both").stroke_count == 3
        assert read(body, scope="stroked").stroke_count == 1
        fills = read(body.replace("<rect", '<rect stroke="none"', 1))
        assert fills.scope == "outlines"

    def test_unstyled_shapes_are_filled_black(self):
        head = MM.replace('fill="none" stroke="#000"', "")
        work = read('<path d="M0 0h9v9z"/>', head)
        assert work.scope == "outlines"
        assert work.styles[0][:3] == (None, "#000000", None)

    def test_long_fills_and_one_stroked_line(self):
        fills = "".join(
            f'<rect x="{k}" width="5" height="90" fill="red" stroke="none"/>'
            for k in range(0, 90, 5)
        )
        assert read(f'{fills}<path d="M0 95h9"/>').scope == "both"

    def test_a_background_is_no_line_work(self):
        body = (
            '<rect width="100" height="100" fill="#eee" stroke="none"/>'
            '<circle cx="50" cy="50" r="9" fill="red" stroke="none"/>'
        )
        work = read(body)
        assert work.stroke_count == 1
        assert "background" in types(work)
        alone = read('<rect width="100" height="100" fill="#eee" stroke="none"/>')
        assert alone.stroke_count == 1

    def test_expanded_strokes_are_recognised(self):
        band = '<path d="M10 {0}h80v.5h-80z" fill="#000" stroke="none"/>'
        work = read("".join(band.format(y) for y in range(10, 60, 10)))
        note = next(n for n in work.notes if n.type == "expanded strokes")
        assert "5 of 5" in note.text
        assert "0.5 mm" in note.text
        ring = '<path fill="#000" fill-rule="evenodd" stroke="none" d="{}"/>'.format(
            "M10 50a40 40 0 1 0 80 0a40 40 0 1 0 -80 0z"
            "M10.8 50a39.2 39.2 0 1 0 78.4 0a39.2 39.2 0 1 0 -78.4 0z"
        )
        assert "expanded strokes" in types(read(ring))
        solid = '<path d="M10 10h80v40h-80z" fill="#000" stroke="none"/>'
        assert "expanded strokes" not in types(read(solid))


class TestFile:
    BODY = '<path d="M0 0L9 9"/>'

    @pytest.mark.parametrize(
        "data",
        [
            f"{MM}{BODY}</svg>".encode("utf-16"),
            f"{MM}{BODY}</svg>".encode("utf-16-be"),
            f"{MM}{BODY}</svg>".encode("utf-8-sig"),
            f"{MM}{BODY}</svg>".encode("utf-32"),
            f"\n\n {MM}{BODY}</svg>".encode(),
            f'<?xml version="1.0" encoding="ISO-8859-1"?>{MM}<g id="é">{BODY}</g></svg>'
            .encode("latin-1"),
            f'<?xml version="1.0" encoding="shift_jis"?>{MM}<g id="線">{BODY}</g></svg>'
            .encode("shift_jis"),
            f'<?xml version="1.0" encoding="UTF-16"?>{MM}{BODY}</svg>'.encode("utf-16"),
            f'<?xml version="1.0" encoding="UTF-16"?>{MM}{BODY}</svg>'.encode(),
            f'<?xml version="1.0" encoding="utf-32"?>{MM}{BODY}</svg>'.encode(),
            gzip.compress(f"{MM}{BODY}</svg>".encode(), mtime=0),
            f"{MM}{BODY}</svg>".replace('xmlns="http://www.w3.org/2000/svg"', "").encode(),
            f"{MM}{BODY}</svg>".replace("<svg xmlns", "<a:svg xmlns:a")
            .replace("<path", "<a:path").replace("</svg", "</a:svg").encode(),
            f"{MM}{BODY}</svg>".replace("<svg", "<svg:svg").replace("<path", "<svg:path")
            .replace("</svg", "</svg:svg").encode(),
            (f'<!DOCTYPE svg PUBLIC "-//W3C//DTD SVG 1.1//EN" "http://x/svg11.dtd" '
             f'[<!ENTITY p "M0 0L9 9">]>{MM}<path d="&p;"/></svg>').encode(),
        ],
    )  # fmt: skip
    def test_encodings_and_names(self, data):
        assert ends(read_linework(data)) == [[0, 0, 9, 9]]

    def test_names_that_steer_a_screen_are_shown(self):
        # ISO/IEC 6429: U+0007 rings a bell; UAX 9: U+202E turns what follows round
        data = f"{MM}{self.BODY}</svg>".encode()
        file = read_linework(data, name="a\x07b\u202e.svg").file
        assert file == "a\\u0007b\\u202e.svg"
        assert find_control(file) == ""

    def test_name_digest_and_lines(self, tmp_path):
        data = f"{MM}\n\n<path\n id='a' d='M0 0L9 9'/></svg>".encode()
        path = tmp_path / "leaf.svg"
        path.write_bytes(data)
        work = read_linework(path)
        assert work.file == "leaf.svg"
        assert work.digest == hashlib.sha256(data).hexdigest()
        assert work.stroke(0).source == ("path#a", 3)
        assert read_linework(str(path)).file == "leaf.svg"
        assert read_linework(data, name="-").file == "-"

    def test_what_is_no_line_work_is_counted(self):
        work = read(
            f'{self.BODY}<text>a</text><text>b</text><image href="x.png"/>'
            '<path d="M0 0L5 5" stroke="url(#g)"/>'
        )
        text = next(n.text for n in work.notes if n.type == "not line work")
        assert "2 text" in text
        assert "1 image" in text
        assert "gradients" in types(work)

    def test_a_fill_that_is_not_there_is_told(self):
        # SVG 2, 13.2: the colour behind a broken reference, without one no paint
        work = read('<rect width="9" height="9" fill="url(#p)" stroke="#000"/>')
        assert "not understood" in types(work)
        box = '<rect width="9" height="9" stroke="none" fill="url(#p)'
        assert read(f'{box} red"/>').styles[0][1] == "#ff0000"
        with pytest.raises(LineWorkError):
            read(f'{box}"/>')

    def test_lines_of_no_width_are_told(self):
        # SVG 2, 13.5.3: a stroke of width zero is not painted
        thin = '<path d="M0 0L5 5" fill="none" stroke="#000" stroke-width="0"/>'
        assert "no width" in types(read(self.BODY + thin))
        with pytest.raises(LineWorkError, match="width 0"):
            read(thin)

    def test_reading_twice_gives_the_same(self):
        data = f"{MM}{TestChoice.DRAWING}</svg>".encode()
        a, b = read_linework(data), read_linework(data)
        assert a.curves.data.tobytes() == b.curves.data.tobytes()
        assert (a.styles, a.groups, a.notes) == (b.styles, b.groups, b.notes)


def test_a_curve_that_touches_the_page_from_outside_is_left_out():
    head = (
        '<svg width="1mm" height="16mm" viewBox="0 0 1 16" fill="none" stroke="#000">'
    )
    work = read('<path d="M8 1a7 7 0 100 14A7 7 0 008 1z"/><path d="M0 2h1"/>', head)
    assert ends(work) == [[0, 2, 1, 2]]


LAYERED = (
    b'<svg xmlns="http://www.w3.org/2000/svg" width="90mm" viewBox="0 0 90 90">'
    b'<g id="ink" stroke="red"><path d="M1 1H80"/><path class="b c" d="M1 9H80"/></g>'
    b'<g id="pencil" stroke="red" display="none" class="d"><path d="M1 5H80"/></g>'
    b'<g id="words"><text>a</text></g></svg>'
)


@pytest.mark.parametrize(
    ("selector", "told"),
    [
        ("layer=Ink", "did you mean ink? layers: ink, pencil, words"),
        ("layer=x", "layers: ink, pencil, words"),
        ("layer=ink,class=nothing", "classes: b, c, d"),
        ("class=B", "classes: b, c, d"),
    ],
)
def test_names_that_no_layer_or_class_has_are_told(selector, told):
    for way in ("lines", "leave"):
        with pytest.raises(LineWorkError, match="of the drawing") as caught:
            read_linework(LAYERED, **{way: (selector,)})
        assert caught.value.mend == told


@pytest.mark.parametrize("selector", ["layer=pencil", "layer=words", "class=d"])
def test_layers_without_lines_are_layers(selector):
    assert read_linework(LAYERED, leave=(selector,)).stroke_count == 2
    assert read_linework(LAYERED, leave=("class=c",)).stroke_count == 1


def test_an_outline_that_rounding_puts_beyond_the_page_is_whole():
    corners = "0.00000,11.54701 20.00000,11.54701 20.00000,0.00000"
    head = MM.replace('"100mm" height="100mm"', '"20mm" height="11.547005mm"')
    head = head.replace("0 0 100 100", "0 0 20 11.547005")
    work = read(f'<polygon points="{corners}"/>', head)
    assert len(work.curves) == 3
    assert types(work) == []


_SQUARE = '<path d="M20 20h60v50h-60z" fill="none" stroke="#000"/>'


@pytest.mark.parametrize(
    ("page", "inside", "told"),
    [
        ('width="2furlong" height="90mm"', "", "the page's width is '2furlong'"),
        ('width="100,5mm" height="90mm"', "", "the page's width is '100,5mm'"),
        ('width="9mm" height="9mm" viewBox="0 0 9"', "", "viewBox '0 0 9'"),
        ('preserveAspectRatio="xmid fill"', "", "preserveAspectRatio 'xmid fill'"),
        ("", '<svg x="3furlong" width="9"/>', "svg in line 1 has a value of x"),
        ("", '<svg width="-9" height="3"/>', "svg in line 1 has a negative size"),
        ("", '<svg viewBox="0 0 -1 3"/>', "svg in line 1 has viewBox '0 0 -1 3'"),
        ("", '<circle r="-3" stroke="red"/>', "circle in line 1 has a negative size"),
        ("", '<circle r="3" stroke="blurple"/>', "“stroke: blurple”"),
        ("", '<circle r="3" stroke-width="3furlong"/>', "“stroke-width: 3furlong”"),
        ("", '<path d="M0 0h9" style="clip-path:circle(3em 9)"/>', "circle(3em 9)"),
        ("", '<g style="rotate:x 9deg"/>', "g in line 1 has a transform that"),
        ("", '<path d="M0 0h9" marker-end="url(#m)"/>', "“marker-end: url(#m)”"),
        (
            "",
            '<g transform="rotate(9)" style="transform-box:fill-box"/>',
            "g in line 1 has a transform about its fill-box",
        ),
    ],
)
def test_what_is_not_used_is_told(page: str, inside: str, told: str) -> None:
    page = f'{page} viewBox="0 0 100 90"' if "viewBox" not in page else page
    svg = f'<svg xmlns="http://www.w3.org/2000/svg" {page}>{_SQUARE}{inside}</svg>'
    notes = [n.text for n in read_linework(svg.encode(), name="odd.svg").notes]
    assert sum(told in text for text in notes) == 1, notes
    plain = f'<svg xmlns="http://www.w3.org/2000/svg" width="9mm">{_SQUARE}</svg>'
    kept = read_linework(plain.encode(), name="plain.svg").notes
    assert not any("not used" in n.text or "has" in n.text for n in kept)


def test_lines_that_a_transform_not_understood_takes_off_the_page_name_it() -> None:
    # a group turned by half about the page's corner instead of its own middle
    shape = f'<g transform="rotate(180)" style="STYLE">{_SQUARE}</g>'
    style = "transform-box:fill-box;transform-origin:center"
    svg = (
        '<svg xmlns="http://www.w3.org/2000/svg" width="90mm" height="90mm" '
        f'viewBox="0 0 90 90">{shape.replace("STYLE", style)}</svg>'
    )
    with pytest.raises(LineWorkError, match="has a transform about") as raised:
        read_linework(svg.encode(), name="turned.svg")
    assert "transform" in raised.value.mend
    assert "page" not in raised.value.mend


def test_a_size_that_is_not_understood_is_told_with_the_units_that_are() -> None:
    svg = (
        '<svg xmlns="http://www.w3.org/2000/svg" width="2furlong" height="90mm" '
        f'viewBox="0 0 90 90">{_SQUARE}</svg>'
    )
    notes = read_linework(svg.encode(), name="long.svg").notes
    (note,) = [n for n in notes if "furlong" in n.text]
    assert all(unit in note.remedy for unit in ("mm", "cm", "in", "pt", "px"))


def test_a_shape_turns_about_its_transform_origin() -> None:
    # CSS Transforms 1, section 8: words and percentages of the view box, lengths
    for origin in ("50% 50%", "center", "bottom 50%", "50px 1cm", "right"):
        x, y = {
            "50% 50%": (50, 40), "center": (50, 40), "bottom 50%": (50, 80),
            "50px 1cm": (50, 96 / 2.54), "right": (100, 40),
        }[origin]  # fmt: skip
        for given in (
            f'transform-origin="{origin}"',
            f'style="transform-origin:{origin}"',
        ):
            svg = (
                '<svg xmlns="http://www.w3.org/2000/svg" width="100px" height="80px" '
                f'viewBox="0 0 100 80"><path d="M{x} {y}h-7v-5" stroke="red" fill="none" '
                f'transform="scale(.5)" {given}/></svg>'
            )
            work = read_linework(svg.encode(), name="turned.svg")
            found = work.curves.starts()[0] * 96 / 25.4
            assert found == pytest.approx((x, 80 - y), abs=1e-6), origin


def test_lengths_in_em_follow_the_font_of_the_group_and_rem_that_of_the_root() -> None:
    # CSS Values and Units 3, section 6.1.1: em is the element's font, rem the root's
    inner = '<g font-size="5"><path d="M0 0H9"/><rect width="2em" height="3rem"/></g>'
    work = read_linework(
        f'<svg xmlns="http://www.w3.org/2000/svg" font-size="4" stroke="black" '
        f'width="100" height="100" viewBox="0 0 100 100">{inner}</svg>'.encode(),
        name="a.svg",
    )
    ends = work.curves.ends()[1:]
    size = np.ptp(ends, axis=0) * 96 / 25.4
    assert size == pytest.approx([10, 12])


def test_strokes_know_their_line_in_the_file():
    body = "".join(f'\n<line x1="{k}" y1="1" x2="{k}.5" y2="8.5e0"/>' for k in range(9))
    assert read(body).source_line.tolist() == list(range(2, 11))
