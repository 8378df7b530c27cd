"""From line work to vertices, edges and faces."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from fillwork.arrangement.build import build_arrangement
    from fillwork.arrangement.outlines import build_outlines

__all__ = ["build_arrangement", "build_outlines"]


def __getattr__(name: str) -> Any:
    if name == "build_arrangement":
        from fillwork.arrangement.build import build_arrangement

        return build_arrangement
    if name == "build_outlines":
        from fillwork.arrangement.outlines import build_outlines

        return build_outlines
    what = f"module {__name__!r} has no attribute {name!r}"
    raise AttributeError(what)
