"""A survey as plain values for other libraries: columns, GeoJSON, a graph."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

if TYPE_CHECKING:
    from fillwork.colouring.model import Colouring
    from fillwork.pipeline.surveying import Survey


def region_columns(
    survey: Survey, colouring: Colouring | None = None
) -> dict[str, list[Any]]:
    """Return the regions as plain columns, such as pandas takes.

    Parameters
    ----------
    survey : Survey
        What was found.
    colouring : Colouring, optional
        Adds the columns ``swatch`` and ``hex``.

    Returns
    -------
    dict of str to list
        ``region`` (number, as in the report), ``kind`` (letter), ``area_mm2``,
        ``x_mm``, ``y_mm`` (a point inside), ``cut``; one entry a region.

    Raises
    ------
    ValueError
        If the colouring is that of another drawing.

    Examples
    --------
    >>> import fillwork, shapely
    >>> grid = [shapely.box(x, 0, x + 10, 10) for x in (0, 10)]
    >>> survey = fillwork.make_survey(fillwork.LineWork.from_geometry(grid))
    >>> columns = region_columns(survey)
    >>> columns["kind"], [round(a, 6) for a in columns["area_mm2"]]
    (['A', 'A'], [100.0, 100.0])
    """
    from fillwork.pipeline.checks import check_survey

    check_survey(survey)
    arrangement, orbits = survey.arrangement, survey.orbits
    count = arrangement.face_count
    faces = np.arange(1, count)
    letters = [orbit.letter for orbit in orbits.orbits]
    points = arrangement.witness[1:]
    found: dict[str, list[Any]] = {
        "region": faces.tolist(),
        "kind": [letters[k] for k in orbits.of_face[1:].tolist()],
        "area_mm2": arrangement.area[1:].tolist(),
        "x_mm": points[:, 0].tolist(),
        "y_mm": points[:, 1].tolist(),
        "cut": arrangement.cut[1:].tolist(),
    }
    if colouring is not None:
        if len(colouring.of_face) != count:
            what = "the colouring is that of another drawing"
            raise ValueError(what)
        swatches = [colouring.palette.swatches[k] for k in colouring.of_face[1:]]
        found["swatch"] = [swatch.name for swatch in swatches]
        found["hex"] = [swatch.hex for swatch in swatches]
    return found


def region_geojson(
    survey: Survey, colouring: Colouring | None = None, *, source: bool = False
) -> dict[str, Any]:
    """Return the regions as a GeoJSON feature collection.

    Parameters
    ----------
    survey : Survey
        What was found.
    colouring : Colouring, optional
        Adds the properties ``swatch`` and ``hex``.
    source : bool
        Whether coordinates are those of the drawing's own numbers instead of mm.

    Returns
    -------
    dict
        Polygons of chords with the columns of `region_columns` as properties.

    Examples
    --------
    >>> import fillwork, shapely
    >>> square = shapely.box(500, 500, 510, 510)
    >>> work = fillwork.LineWork.from_geometry(square)
    >>> found = region_geojson(fillwork.make_survey(work), source=True)
    >>> shapely.geometry.shape(found["features"][0]["geometry"]).bounds
    (500.0, 500.0, 510.0, 510.0)
    """
    import shapely

    from fillwork.geometry import affine
    from fillwork.pipeline.checks import check_survey

    check_survey(survey)
    polygons = survey.arrangement.polygons()
    if source:
        back = affine.invert(survey.linework.frame.to_mm)
        polygons = np.asarray(
            shapely.transform(polygons, lambda points: affine.apply(back, points))
        )
    columns = region_columns(survey, colouring)
    rows = zip(*columns.values(), strict=True)
    return {
        "type": "FeatureCollection",
        "features": [
            {
                "type": "Feature",
                "properties": dict(zip(columns, row, strict=True)),
                "geometry": shapely.geometry.mapping(polygon),
            }
            for polygon, row in zip(polygons.tolist(), rows, strict=True)
        ],
    }


def contact_graph(survey: Survey, *, kinds: bool = False) -> Any:
    """Return which regions share an edge as a graph of networkx.

    Parameters
    ----------
    survey : Survey
        What was found.
    kinds : bool
        Whether nodes are kinds (letters) instead of regions (numbers).

    Returns
    -------
    networkx.Graph
        Edges bear ``shared_mm``; regions bear ``kind`` and ``area_mm2``.

    Raises
    ------
    ImportError
        If networkx is not installed.

    Examples
    --------
    >>> import fillwork, shapely
    >>> row = [shapely.box(x, 0, x + 10, 10) for x in (0, 10, 20)]
    >>> survey = fillwork.make_survey(fillwork.LineWork.from_geometry(row))
    >>> sorted(degree for _, degree in contact_graph(survey).degree)
    [1, 1, 2]
    """
    import networkx

    from fillwork.pipeline.checks import check_survey

    check_survey(survey)
    graph = networkx.Graph()
    adjacency, letters = survey.adjacency, [o.letter for o in survey.orbits.orbits]
    if kinds:
        for letter, area in zip(letters, adjacency.area.tolist(), strict=True):
            graph.add_node(letter, area_mm2=area)
        shared = zip(adjacency.pairs.tolist(), adjacency.shared.tolist(), strict=True)
        for (a, b), length in shared:
            if length > 0:
                graph.add_edge(letters[a], letters[b], shared_mm=length)
        return graph
    areas = survey.arrangement.area.tolist()
    for face, kind in enumerate(survey.orbits.of_face.tolist()):
        if face:
            graph.add_node(face, kind=letters[kind], area_mm2=areas[face])
    pairs = adjacency.face_pairs.tolist()
    for (a, b), length in zip(pairs, adjacency.face_shared.tolist(), strict=True):
        graph.add_edge(a, b, shared_mm=length)
    return graph
