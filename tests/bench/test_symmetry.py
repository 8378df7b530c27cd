"""How often groups, kinds and zones are right, and what the survey costs.

Each test measures one set and prints one row; nothing is asserted of the shares,
which stand in MEASURED.md. ``FILLWORK_SEEDS`` says how many drawings a group
are made (1), ``FILLWORK_FIRST_SEED`` which is the first (100). Run:
``pytest -m bench -s tests/bench/test_symmetry.py``.
"""

from __future__ import annotations

import os
import subprocess
import sys
from typing import TYPE_CHECKING

import numpy as np
import pytest
import shapely

from fillwork.arrangement.build import build_arrangement
from tests.bench.framed import CASES, build_panel, make_case, score_panel
from tests.bench.symmetry_sets import (
    Tally,
    judge_pattern,
    random_drawing,
    survey,
)
from tests.bench.test_whole import measure, star_and_cross
from tests.unit.helpers import linework_from_curves, linework_from_segments
from tests.unit.symmetry.panels import CORNERS, make_panel
from tests.unit.symmetry.patterns import PLANE_NAMES, plane_pattern
from tests.unit.symmetry.strips import STRIPS, rosette_pattern, strip_pattern

if TYPE_CHECKING:
    from pathlib import Path

pytestmark = pytest.mark.bench

FIRST = int(os.environ.get("FILLWORK_FIRST_SEED", "100"))
SEEDS = range(FIRST, FIRST + int(os.environ.get("FILLWORK_SEEDS", "1")))


@pytest.mark.parametrize("noise", [0.0, 0.01, 0.02])
@pytest.mark.parametrize("kind", ["straight", "curved", "symmetric lattice"])
def test_plane(kind: str, noise: float) -> None:
    tally = Tally()
    for seed in SEEDS:
        for name in PLANE_NAMES:
            pattern = plane_pattern(
                name,
                seed,
                repeats=(6.0, 9.0, 14.0)[seed % 3],
                noise=noise,
                curved=kind == "curved",
                symmetric=kind == "symmetric lattice",
                shape="upright",
                margin=1.6,
            )
            judge_pattern(tally, pattern, "plane", "page", f"seed {seed}")
    print("\n" + tally.line(f"plane, 6 to 14 repeats, {kind}, {100 * noise:g} % noise"))


@pytest.mark.parametrize("noise", [0.0, 0.005])
@pytest.mark.parametrize("repeats", [2, 3, 4])
def test_small_patches(repeats: int, noise: float) -> None:
    tally = Tally()
    for seed in SEEDS:
        for name in PLANE_NAMES:
            pattern = plane_pattern(
                name,
                seed,
                repeats=repeats,
                noise=noise,
                curved=bool(seed % 2),
                shape="upright",
                margin=1.6,
            )
            judge_pattern(tally, pattern, "plane", "page", f"seed {seed}")
    print("\n" + tally.line(f"plane, {repeats} repeats, {100 * noise:g} % noise"))


@pytest.mark.parametrize("noise", [0.0, 0.01])
@pytest.mark.parametrize("shape", ["box", "thin", "disc", "triangle"])
@pytest.mark.parametrize("style", ["polygons", "circles", "stars"])
def test_motifs(style: str, shape: str, noise: float) -> None:
    tally = Tally()
    for seed in SEEDS:
        for name in PLANE_NAMES:
            pattern = plane_pattern(
                name,
                seed,
                repeats=8,
                noise=noise,
                shape=shape,
                margin=1.6,
                style=style,
            )
            judge_pattern(tally, pattern, "plane", "drawn", f"seed {seed}")
    print("\n" + tally.line(f"{style}, {shape} window, {100 * noise:g} % noise"))


@pytest.mark.parametrize("noise", [0.0, 0.01])
@pytest.mark.parametrize("cropped", [False, True])
def test_friezes(cropped: bool, noise: float) -> None:
    tally = Tally()
    for seed in SEEDS:
        for name in STRIPS:
            for curved in (False, True):
                turned = not cropped or bool(seed % 2) != curved
                pattern = strip_pattern(
                    name,
                    seed,
                    noise=noise,
                    curved=curved,
                    cropped=cropped,
                    turned=turned,
                    repeats=(3.6, 5.0, 8.3)[seed % 3],
                )
                edge = "drawn" if turned else "page"
                label = f"seed {seed}{' curved' * curved}"
                judge_pattern(tally, pattern, "frieze", edge, label)
    how = "cropped" if cropped else "whole"
    print("\n" + tally.line(f"friezes, {how}, {100 * noise:g} % noise"))
    print(f"    read as plane: {tally.as_plane}")


ORDERS = (1, 2, 3, 4, 5, 6, 8, 9, 12, 16, 25, 64)


@pytest.mark.parametrize("noise", [0.0, 0.01])
@pytest.mark.parametrize("cropped", [False, True])
def test_rosettes(cropped: bool, noise: float) -> None:
    tally = Tally()
    for seed in SEEDS:
        for n in ORDERS:
            for mirrors in (False, True):
                if n == 1 and not mirrors:
                    continue
                pattern = rosette_pattern(
                    n,
                    mirrors,
                    seed,
                    noise=noise,
                    curved=bool(seed % 2),
                    cropped=cropped,
                )
                edge = "page" if cropped else "open"
                judge_pattern(tally, pattern, "rosette", edge, f"seed {seed}")
    how = "cropped" if cropped else "whole"
    print("\n" + tally.line(f"rosettes, {how}, {100 * noise:g} % noise"))
    print(f"    read as plane: {tally.as_plane}")


PANELS = [
    (group, medallion, corners)
    for k, group in enumerate(("p4g", "p6m", "pgg", "cmm", "p31m", "p4m", "pmm", "p2"))
    for medallion, corners in [
        (
            ("circle", "octagon", "none")[k % 3],
            CORNERS[k % len(CORNERS)],
        ),
        (
            ("circle", "octagon", "none")[(k + 1) % 3],
            CORNERS[(k + 2) % len(CORNERS)],
        ),
    ]
]


@pytest.mark.parametrize("noise", [0.0, 0.005])
def test_panels(noise: float) -> None:
    zones_seen = zones_right = sure = regions = inside = 0
    wrong = []
    cpu = 0.0
    for seed in SEEDS:
        for group, medallion, corners in PANELS:
            rows, truth = make_panel(
                group, seed, medallion=medallion, corners=corners, noise=noise
            )
            work = linework_from_curves(rows, 300, 220, has_page=False)
            arrangement = build_arrangement(work)
            zones, _, seconds = survey(arrangement)
            cpu += seconds
            zone = np.zeros(arrangement.face_count, int)
            for z in zones:
                zone[z.faces] = z.index
            zone = zone[1:]
            label = np.full(len(zone), -1)
            for k, (area, _, _) in enumerate(truth):
                label[shapely.contains_xy(area, *arrangement.witness[1:].T)] = k
            regions += int((label >= 0).sum())
            for k, (_, role, name) in enumerate(truth):
                mine = np.flatnonzero(label == k)
                if len(mine) == 0:
                    continue
                best = np.bincount(zone[mine]).argmax()
                # a zone belongs to the part that most of its regions are in
                other = np.bincount(label[(zone == best) & (label >= 0)]).argmax()
                if other == k:
                    inside += int((zone[mine] == best).sum())
                zones_seen += 1
                found = zones[best - 1].symmetry
                if other == k and found.group.short == name:
                    zones_right += 1
                else:
                    sure += found.certain
                    wrong.append(
                        f"seed {seed} {group} {medallion} {corners}: {role} {name} "
                        f"is {found.group.short if other == k else 'part of another'}"
                    )
    print(
        f"\npanels, {100 * noise:g} % noise: {zones_right} of {zones_seen} zones have "
        f"their group ({100 * zones_right / zones_seen:.1f} %), {sure} wrong and sure; "
        f"{100 * inside / regions:.2f} % of {regions} regions in the right zone; "
        f"{cpu / (len(SEEDS) * len(PANELS)):.2f} s CPU a panel"
    )
    print("    " + "\n    ".join(wrong))


@pytest.mark.parametrize("noise", [0.0, 0.005, 0.01])
@pytest.mark.parametrize("case", CASES)
def test_framed(case: str, noise: float) -> None:
    """Regions in a zone with the right group; five panels a seed."""
    right = regions = sure = none = drawings = spoilt = 0
    cpu = 0.0
    wrong: list[str] = []
    for seed in SEEDS:
        for number in range(5 * seed, 5 * seed + 5):
            panel = make_case(case, number)
            arrangement, edge = build_panel(panel, noise)
            zones, _, seconds = survey(arrangement)
            cpu += seconds
            score = score_panel(panel, arrangement, edge, zones)
            right += score.right
            regions += score.regions
            sure += score.sure_and_wrong
            none += score.none_and_sure
            drawings += 1
            spoilt += bool(score.sure_and_wrong or score.none_and_sure)
            wrong += score.wrong
    print(
        f"\nframed, {case}, {100 * noise:g} % noise: {100 * right / regions:.1f} % of "
        f"{regions} regions; {sure} zones wrong and sure, {none} surely none, in "
        f"{spoilt} of {drawings} drawings; {cpu / drawings:.2f} s CPU a drawing"
    )
    print("    " + "\n    ".join(wrong))


@pytest.mark.parametrize("noise", [0.0, 0.01, 0.02])
def test_uniform_tilings(noise: float) -> None:
    # groups and numbers of kinds: Grünbaum and Shephard, Tilings and Patterns
    from tests.reference.test_kinds_tilings import GROUPS, TILINGS, _pattern

    right = kinds = 0
    for name in TILINGS:
        segments, _ = _pattern(name, noise)
        work = linework_from_segments(segments, 400, 400, has_page=False)
        zones, orbits, _ = survey(build_arrangement(work))
        right += [z.symmetry.group.short for z in zones] == [GROUPS[name]]
        kinds += len(orbits.orbits) == sum(TILINGS[name][-1].values())
    print(
        f"\nuniform tilings, {100 * noise:g} % noise: {right} of 11 groups, "
        f"{kinds} of 11 with the right number of kinds"
    )


def test_drawings_without_symmetry() -> None:
    right = 0
    cpu = []
    wrong = []
    for seed in range(200):
        arrangement, style = random_drawing(seed)
        zones, _, seconds = survey(arrangement)
        cpu.append(seconds)
        groups = {z.symmetry.group.short for z in zones}
        right += groups <= {"none"}
        if not groups <= {"none"}:
            sure = any(
                z.symmetry.certain for z in zones if z.symmetry.group.short != "none"
            )
            wrong.append(f"{seed} {style}: {groups} {'sure' if sure else ''}")
    print(
        f"\nwithout symmetry: {right} of 200 are none; {np.mean(cpu):.2f} s CPU a "
        f"drawing, {max(cpu):.2f} s at most"
    )
    print("    " + "\n    ".join(wrong))


@pytest.mark.parametrize("regions", [500, 5_000, 50_000])
def test_cost(regions: int, tmp_path: Path) -> None:
    """CPU seconds of a survey beyond the same without symmetry, whole process."""
    drawing = tmp_path / "stars.svg"
    # one star and one cross for sixteen lines
    drawing.write_text(star_and_cross(8 * regions))
    survey_it = [sys.executable, "-m", "fillwork", "survey", str(drawing), "--quiet"]
    times = {}
    for name, extra in (("none", ["--symmetry", "none"]), ("auto", [])):
        runs = [measure([*survey_it, *extra])[0] for _ in range(3)]
        times[name] = min(runs)
    count = subprocess.run(
        [*survey_it, "--json"], capture_output=True, text=True, check=True
    ).stdout.count('"at_mm"')
    print(
        f"\n{regions} regions wanted, {count} points told: survey "
        f"{times['auto']:.2f} s, without symmetry {times['none']:.2f} s, "
        f"beyond it {times['auto'] - times['none']:.2f} s CPU"
    )
