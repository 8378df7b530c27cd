"""What the package may load, and when."""

from __future__ import annotations

import subprocess
import sys

import fillwork

HEAVY = (
    "numpy", "scipy", "shapely", "coloraide", "lxml", "PIL", "pikepdf", "flask",
    "svgelements", "fontTools", "uharfbuzz",
)  # fmt: skip


def loaded_after(code: str) -> set[str]:
    program = f"{code}\nimport sys\nprint(*{{m.split('.')[0] for m in sys.modules}})"
    run = subprocess.run(
        [sys.executable, "-c", program], capture_output=True, text=True, check=True
    )
    return set(run.stdout.split("\n")[-2].split())


def test_import_loads_nothing_heavy() -> None:
    assert not loaded_after("import fillwork").intersection((*HEAVY, "click"))


def test_help_loads_nothing_heavy() -> None:
    code = (
        "from click.testing import CliRunner\n"
        "from fillwork.cli.main import main\n"
        "assert CliRunner().invoke(main, ['--help']).exit_code == 0"
    )
    assert not loaded_after(code).intersection(HEAVY)


def test_every_public_name_is_there() -> None:
    for name in fillwork.__all__:
        assert getattr(fillwork, name) is not None, name
    assert set(fillwork._HOMES) | {"__version__"} == set(fillwork.__all__)
    assert set(dir(fillwork)) == set(fillwork.__all__)


def test_a_picture_loads_one_encoder() -> None:
    code = (
        "import sys\n"
        "from fillwork.renderers.encoders.png import to_png\n"
        "from fillwork.renderers.scene import Scene\n"
        "assert to_png(Scene(10.0, 10.0, items=()), 20)[1:4] == b'PNG'\n"
        "assert 'PIL.PngImagePlugin' in sys.modules\n"
        "assert 'PIL.GifImagePlugin' not in sys.modules"
    )
    loaded_after(code)
