"""Geometry that a program has in hand, as paths of points."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

if TYPE_CHECKING:
    from fillwork.arrays import Floats

_WANTED = (
    "shapely geometry, an array of shape (n, 2, 2), something with "
    "__geo_interface__, or an iterable of these"
)
_MOST_DEEP = 20


def gather_paths(geometry: Any) -> list[Floats]:
    """Return the lines and rings of geometry.

    `geometry`: shapely geometry, an array of shape (n, 2, 2), an object or a mapping of
    GeoJSON, or an iterable of these. Returns (k, 2): points of each line, two or more;
    a ring ends where it begins. Raises `TypeError` if something else is given.
    """
    found: list[Floats] = []
    _gather(geometry, found, 0)
    return found


def _gather(thing: Any, found: list[Floats], depth: int) -> None:
    import shapely

    if depth > _MOST_DEEP:
        what = f"the geometry is nested more than {_MOST_DEEP} deep"
        raise TypeError(what)
    if isinstance(thing, shapely.Geometry):
        _take(thing, found)
        return
    told = getattr(thing, "__geo_interface__", thing)
    if isinstance(told, dict):
        _gather_json(told, found, depth)
        return
    if isinstance(thing, str | bytes) or not hasattr(thing, "__iter__"):
        what = f"{type(thing).__name__} is no geometry; give {_WANTED}"
        raise TypeError(what)
    rows = _as_segments(thing)
    if rows is not None:
        found.extend(rows)
        return
    for part in thing:
        _gather(part, found, depth + 1)


def _as_segments(thing: Any) -> Floats | None:
    """Return an array of segments, copied, or None where it is no array of numbers."""
    if isinstance(thing, np.ndarray) and thing.dtype != object:
        rows = np.array(thing, np.float64)
    elif isinstance(thing, list | tuple) and thing:
        if not isinstance(thing[0], list | tuple | np.ndarray):
            return None
        try:
            rows = np.array(thing, np.float64)
        except (TypeError, ValueError):
            return None
    else:
        return None
    if rows.ndim != 3 or rows.shape[1:] != (2, 2):
        what = f"an array of shape {rows.shape} is no geometry; give {_WANTED}"
        raise TypeError(what)
    return rows


def _gather_json(told: dict[str, Any], found: list[Any], depth: int) -> None:
    import shapely.geometry

    kind = told.get("type")
    if kind == "FeatureCollection":
        for feature in told.get("features", ()):
            _gather(feature, found, depth + 1)
    elif kind == "Feature":
        if told.get("geometry") is not None:
            _gather(told["geometry"], found, depth + 1)
    else:
        try:
            shape = shapely.geometry.shape(told)
        except (KeyError, TypeError, ValueError, AttributeError) as error:
            what = f"the GeoJSON “{kind}” is no geometry"
            raise TypeError(what) from error
        except shapely.errors.GeometryTypeError as error:
            what = f"the GeoJSON “{kind}” is no geometry"
            raise TypeError(what) from error
        _take(shape, found)


def _take(shape: Any, found: list[Floats]) -> None:
    import shapely

    for part in shapely.get_parts(shape).tolist():
        if part.geom_type in {"GeometryCollection", "MultiPolygon", "MultiLineString"}:
            _take(part, found)
        elif part.geom_type == "Polygon":
            rings = shapely.get_rings(part).tolist()
            found.extend(shapely.get_coordinates(ring) for ring in rings)
        elif part.geom_type in {"LineString", "LinearRing"} and not part.is_empty:
            found.append(shapely.get_coordinates(part))
