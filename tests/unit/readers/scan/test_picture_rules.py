"""What a picture file says of itself, and how large it may be."""

from __future__ import annotations

import io

import pytest
from PIL import Image
from PIL.PngImagePlugin import PngInfo

from fillwork.errors import ReadError
from fillwork.readers.scan import picture
from fillwork.readers.scan.picture import _focal, _resolution, open_picture
from tests.unit.readers.scan.test_pictures import encoded


def told(same: object, size: tuple[int, int] = (400, 300)) -> float | None:
    return _focal({41989: same}, size)


def test_what_a_file_says_of_its_camera_is_taken_where_it_can_be_true() -> None:
    # CIPA DC-008: a film of 24 by 36 mm measures 43.267 mm from corner to corner, and
    # pictures of 400 by 300 px 500 px
    for mm in (10, 26, 300):
        assert told(mm) == pytest.approx(mm / 43.267 * 500 / 400, rel=1e-4)
    assert told(26, (300, 400)) == told(26)
    for wrong in (9, 301, 0, None, "26", 26.0):
        assert told(wrong) is None


@pytest.mark.parametrize(
    ("dpi", "stated"),
    [
        ((300.0, 300.0), 300.0),
        # 72 and 96 are what programs write without knowing; scanners have 100 to 4800
        ((96.0, 96.0), None),
        ((100.0, 100.0), 100.0),
        ((4800.0, 4800.0), 4800.0),
        ((4900.0, 4900.0), None),
        # both ways alike, within a fiftieth
        ((300.0, 305.0), 300.0),
        ((300.0, 307.0), None),
    ],
)
def test_a_resolution_is_taken_where_it_can_be_true(
    dpi: tuple[float, float], stated: float | None
) -> None:
    image = Image.new("L", (10, 10))
    image.info["dpi"] = dpi
    assert _resolution(image) == stated
    for wrong in (("300", "x"), (300.0,), 300.0, (float("nan"),) * 2):
        image.info["dpi"] = wrong
        assert _resolution(image) is None


def test_a_text_too_long_to_be_read_is_no_damage_of_the_picture() -> None:
    about = PngInfo()
    about.add_text("Comment", "x" * 3_000_000, zip=True)
    stream = io.BytesIO()
    Image.new("L", (200, 300), 77).save(stream, "PNG", pnginfo=about)
    found = open_picture(stream.getvalue(), "sheet.png")
    assert found.rgb.shape == (300, 200, 3)
    assert (found.rgb == 77).all()
    with pytest.raises(ReadError, match="damaged"):
        open_picture(stream.getvalue()[:-60], "sheet.png")


@pytest.mark.parametrize(
    ("size", "reason"),
    [((199, 400), "too few"), ((200, 400), None), ((200, 8000), None),
     ((200, 8040), "longer than 40")],
)  # fmt: skip
def test_pictures_have_two_hundred_pixels_and_forty_widths(
    size: tuple[int, int], reason: str | None
) -> None:
    data = encoded(Image.new("L", size, 255), "PNG")
    if reason is None:
        assert open_picture(data, "x").rgb.shape[:2] == size[::-1]
        return
    with pytest.raises(ReadError, match=reason):
        open_picture(data, "x")


@pytest.mark.parametrize(
    ("pixels", "shrunk"), [(900, 1), (1000, 1), (1020, 2), (4000, 2), (4100, 3)]
)
def test_a_large_picture_is_made_smaller_by_whole_steps(
    pixels: int, shrunk: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    # as if a thousand times fewer could be worked on
    monkeypatch.setattr(picture, "_WORK_PIXELS", 1000)
    monkeypatch.setattr(picture, "_LEAST_SIDE", 10)
    monkeypatch.setattr(picture, "_MOST_PIXELS", 5000)
    image = Image.new("L", (pixels // 20, 20), 255)
    found = open_picture(encoded(image, "PNG", dpi=(300, 300)), "x")
    assert found.shrunk == shrunk
    assert found.rgb.shape[:2] == (-(-20 // shrunk), -(-pixels // 20 // shrunk))
    assert found.dpi == pytest.approx(300 / shrunk, rel=0.001)
    with pytest.raises(ReadError, match="over 5,000 in all"):
        open_picture(encoded(Image.new("L", (251, 20), 255), "PNG"), "x")
