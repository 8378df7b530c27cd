from fillwork.colouring.palettes.file import list_palettes, parse_palette, read_palette
from fillwork.plans.cautions import (
    BLADES,
    CLASSES,
    FIRST,
    FRESH_LIME,
    LOOSE_LEAF,
    METHODS,
    OLD_PAINT,
    VARNISH,
    find_cautions,
    with_care,
)
from fillwork.plans.media import MEDIA_FACTS
from fillwork.plans.model import Step


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


def test_every_medium_that_is_handled_has_a_caution():
    # a pencil and the bare surface need none beyond the label and the class's
    assert set(MEDIA_FACTS) - set(METHODS) == {"bare", "pencil"}


def test_supports_and_tools_bring_their_own():
    paint = swatches(
        "[[paint]]\nname='a'\ncolour='red'\nmedium='acrylic'\npigments=['PR101']\n"
    )
    plain = find_cautions(paint)
    assert not {BLADES, FRESH_LIME, OLD_PAINT}.intersection(plain)
    assert FRESH_LIME in find_cautions(paint, support="lime plaster")
    assert OLD_PAINT in find_cautions(paint, support="old paint")
    assert BLADES in find_cautions(paint, needs=frozenset({"knife"}))


def test_cautions_stand_in_the_step_where_the_work_is():
    paints = swatches(
        "medium='oil'\n[[paint]]\nname='a'\ncolour='red'\npigments=['PR108']\n"
        "[[paint]]\nname='b'\ncolour='white'\npigments=['PW1']\n"
        "[[paint]]\nname='g'\ncolour='gold'\nmedium='leaf'\n"
    )
    work = [(0, "fill"), (1, "fill"), (0, "fill"), (2, "gild"), (None, "varnish")]
    steps = [Step(k, s, (), "", "", kind) for k, (s, kind) in enumerate(work, 1)]
    care = [step.care for step in with_care(steps, paints, {})]
    # a pigment's danger each time, a method's once
    assert ["cadmium" in c.casefold() for c in care] == [
        True,
        False,
        True,
        False,
        False,
    ]
    assert "Lead" in care[1]
    assert [METHODS["oil"] in c for c in care] == [True, False, False, False, False]
    assert care[3] == METHODS["leaf"]
    assert care[4] == VARNISH


def test_leaf_on_bole_is_not_warned_of_the_solvent_of_oil_size():
    # water gilding wets bole with water, a little alcohol and glue: no oil size
    leaf = swatches("[[paint]]\nname='g'\ncolour='gold'\nmedium='leaf'\n")
    water, oil = (
        Step(1, 0, (), "", "", "gild", needs=(under, "gilder's tip"))
        for under in ("bole", "oil size")
    )
    assert [step.care for step in with_care([water, oil], leaf, {})] == [
        LOOSE_LEAF,
        METHODS["leaf"],
    ]
    assert LOOSE_LEAF in find_cautions(leaf, needs=frozenset({"bole"}))
    both = find_cautions(leaf, needs=frozenset({"bole", "oil size"}))
    assert METHODS["leaf"] in both
    assert LOOSE_LEAF not in both
