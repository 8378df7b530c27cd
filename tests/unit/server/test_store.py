"""Of kept drawings only old ones that no sheet needs are taken away."""

from __future__ import annotations

import os
import time
from typing import TYPE_CHECKING

from fillwork.server.store import Store

if TYPE_CHECKING:
    from pathlib import Path


def test_a_drawing_kept_just_now_is_not_tidied_away(tmp_path: Path) -> None:
    folder = tmp_path / "drawings"
    folder.mkdir()
    for name, days in (("young", 0.5), ("old", 2.0)):
        path = folder / name
        path.write_bytes(b"<svg/>")
        then = time.time() - days * 86400
        os.utime(path, (then, then))
    Store(tmp_path).tidy()
    assert [p.name for p in folder.iterdir()] == ["young"]
