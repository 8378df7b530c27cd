from fillwork.colouring.palette_file import list_palettes, parse_palette, read_palette
from fillwork.plans.cautions import CLASSES, FIRST, find_cautions


def swatches(text: str):
    return parse_palette(text.encode(), "p.toml").swatches


def test_label_first_and_classes_always():
    for name in list_palettes():
        lines = find_cautions(read_palette(name).swatches)
        assert lines[0] == FIRST
        assert lines[-1] == CLASSES
        assert len(set(lines)) == len(lines)
        assert all(line.endswith(".") for line in lines)
    assert all(s in CLASSES for s in ("EN 71-3", "EN 71-7", "ASTM D4236"))


def test_by_pigment_with_the_names_of_the_paints():
    lines = find_cautions(
        swatches(
            "[[paint]]\nname='sun'\ncolour='yellow'\npigments=['PY35']\n"
            "[[paint]]\nname='fire'\ncolour='red'\npigments=['PR108', 'PW6']\n"
            "[[paint]]\nname='sky'\ncolour='blue'\npigments=['PB35']\n"
        )
    )
    cadmium = [line for line in lines if "cadmium" in line]
    assert len(cadmium) == 1
    assert cadmium[0].startswith("sun, fire: ")
    assert any(line.startswith("sky: cobalt") for line in lines)


def test_by_method():
    lines = " ".join(find_cautions(read_palette("lime-yard").swatches))
    assert "burns eyes" in lines
    assert "may hold lead" in lines
    oil = " ".join(find_cautions(read_palette("oak-study").swatches))
    assert "rags" in oil
    pencils = find_cautions(read_palette("pencil-box").swatches)
    assert pencils == (FIRST, CLASSES)


def test_own_cautions_and_unknown_pigments():
    lines = find_cautions(
        swatches(
            "[[paint]]\nname='a'\ncolour='red'\ncautions=['Keep it from the cat.']\n"
            "[[paint]]\nname='b'\ncolour='blue'\n"
        )
    )
    assert "a: keep it from the cat." in lines
    assert any(line.startswith("b: pigment not known") for line in lines)
