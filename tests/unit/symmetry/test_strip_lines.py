"""Strips: which operations make a group, and from what was measured to a symmetry."""

from __future__ import annotations

import math
from dataclasses import replace
from types import SimpleNamespace

import numpy as np
import pytest

from fillwork.symmetry.groups import frieze_group
from fillwork.symmetry.lines.assemble import (
    _centre_of_strip,
    _coset,
    _nearest,
    frieze_symmetry,
    rosette_symmetry,
)
from fillwork.symmetry.lines.evidence import build_evidence
from fillwork.symmetry.lines.fit import Correlator
from fillwork.symmetry.lines.frieze import (
    NEEDS,
    NO_MIDDLE,
    UNCLOSED,
    StripOperation,
    _by_steps,
    _decide,
    _products,
    find_strip,
)
from fillwork.symmetry.lines.lattice_fit import LatticeFit, measure_lattice
from fillwork.symmetry.lines.mirrors import RosetteFit
from fillwork.symmetry.lines.turning import reflection, rotation
from tests.unit.symmetry.strips import STRIPS
from tests.unit.symmetry.test_evidence import strokes

STEP = np.array([24.0, 10])  # of length 26
ALONG = STEP / 26
ACROSS = np.array([-ALONG[1], ALONG[0]])
ANGLE = math.atan2(10, 24)
LINEAR = {
    "turn": -np.eye(2),
    "flip": reflection(ANGLE + math.pi / 2),
    "mirror": reflection(ANGLE),
    "glide": reflection(ANGLE),
}
MIDDLE = np.array([40.0, 70])
ROW = LatticeFit(STEP[None, :], 0, 0.98, 0.1, 9, 500, 0.9)
SCALE = 10.0


def operations(**shares: float) -> dict[str, StripOperation]:
    """Return operations about one centre, by their shares."""
    shift = {name: MIDDLE - LINEAR[name] @ MIDDLE for name in LINEAR}
    shift["glide"] = shift["glide"] + STEP / 2
    return {
        name: StripOperation(LINEAR[name], shift[name], shares.get(name, 0.1), 0.1)
        for name in LINEAR
    }


def decide(found, lattice=ROW):
    return _decide(SimpleNamespace(scale=SCALE), lattice, STEP, found, MIDDLE)


@pytest.mark.parametrize("short", NEEDS)
def test_operations_that_hold_make_their_group(short: str) -> None:
    # 0.93 of the images must be matched
    found = decide(operations(**dict.fromkeys(NEEDS[short], 0.94)))
    assert (found.short, found.reason, found.near) == (short, "", ())
    assert found.vector is STEP
    assert found.centre is MIDDLE


@pytest.mark.parametrize(
    ("shares", "short", "reason"),
    [
        ({"turn": 0.94, "flip": 0.94}, "p1m1 p2", UNCLOSED),
        ({"flip": 0.94, "mirror": 0.94}, "p1m1 p11m", UNCLOSED),
        ({"turn": 0.94, "glide": 0.94}, "p2 p11g", UNCLOSED),
        # of a mirror and a glide along one line the better one
        ({"mirror": 0.97, "glide": 0.95}, "p11m", ""),
        ({"mirror": 0.95, "glide": 0.97}, "p11g", ""),
        ({"mirror": 0.95, "glide": 0.95}, "p11m", ""),
        ({"flip": 0.92}, "p1", "p1m1 fits 92 % of the lines"),
        ({"flip": 0.80}, "p1", "p1m1 fits 80 % of the lines"),
        ({"flip": 0.79}, "p1", ""),
        ({"turn": 0.94, "flip": 0.85, "mirror": 0.9}, "p2", "p2mm fits 85 % of"),
    ],
)
def test_operations_that_nearly_hold_cast_doubt(shares, short, reason) -> None:
    found = decide(operations(**shares))
    assert found.short in short.split()
    assert found.reason.startswith(reason)
    assert bool(found.reason) is bool(reason)


def test_operations_need_no_more_lines_than_the_shift_has() -> None:
    # three in a hundred less than the shift, where that keeps few
    poor = replace(ROW, share=0.9)
    assert decide(operations(flip=0.88), poor).short == "p1m1"
    assert decide(operations(flip=0.86), poor).short == "p1"


def test_lines_that_miss_by_more_than_under_the_shift_are_doubtful() -> None:
    # 1.45 times what the shift's miss by, and 0.004 of the scale: 0.185 mm
    for rms, short in ((0.18, "p1m1"), (0.19, "p1")):
        found = operations(flip=0.99)
        found["flip"] = replace(found["flip"], rms=rms)
        told = decide(found)
        assert told.short == short
    assert told.reason == (
        "p1m1 fits 99 % of the lines, but they miss by 0.19 mm, the shift's by 0.1 mm"
    )
    assert told.near == (("p1m1", 0.99, 0.19),)
    # where lines may miss by more: three times as much and 0.003 of the scale, 0.33 mm
    for rms, near in ((0.32, True), (0.34, False)):
        found = operations()
        looser = ((0.5, 0.2), (0.95, rms))
        found["flip"] = replace(found["flip"], looser=looser)
        told = decide(found)
        assert told.short == "p1"
        assert (told.near == (("p1m1", 0.1, 0.1),)) is near
        assert bool(told.reason) is near


def test_a_half_turn_beside_the_axis_holds_not_with_it() -> None:
    # 0.15 of the scale: their middle lines lie 1.4 and 1.6 mm apart
    for off, reason in ((1.4, ""), (1.6, NO_MIDDLE)):
        found = operations(turn=0.96, flip=0.95, mirror=0.94)
        turn = found["turn"]
        found["turn"] = replace(turn, shift=turn.shift + 2 * off * ACROSS)
        told = decide(found)
        assert told.reason.startswith(reason)
        assert bool(told.reason) is bool(reason)
    for turning, short in ((0.94, "p11g"), (0.98, "p2")):
        found = operations(turn=turning, glide=0.97)
        found["turn"] = replace(found["turn"], shift=found["turn"].shift + 4 * ACROSS)
        told = decide(found)
        assert (told.short, told.reason) == (short, NO_MIDDLE)


def test_what_follows_from_two_operations_is_their_product() -> None:
    # a turn after a mirror across is a mirror along: (-1) F x = M x
    for third, pair in (
        ("mirror", {"turn": 0.9, "flip": 0.85}),
        ("flip", {"turn": 0.9, "mirror": 0.9}),
        ("turn", {"flip": 0.9, "mirror": 0.9}),
    ):
        found = operations(**pair)
        ((name, shift),) = _products(found, STEP)
        assert name == third
        assert np.allclose(shift, found[third].shift)
        assert _products({**found, third: found[third]}, STEP)
    found = operations(turn=0.9, flip=0.9)
    # the mirror across lies a quarter of a repeat from the centre: p2mg
    flip = found["flip"]
    found["flip"] = replace(flip, shift=flip.shift + STEP / 2)
    ((name, shift),) = _products(found, STEP)
    assert name == "glide"
    assert np.allclose(LINEAR["glide"] @ MIDDLE + shift, MIDDLE - STEP / 2)
    # and one by whole repeats is a mirror
    found["flip"] = replace(flip, shift=flip.shift + 3 * STEP)
    ((name, _),) = _products(found, STEP)
    assert name == "mirror"
    # 0.85 of the images are needed
    assert _products(operations(turn=0.9, flip=0.84), STEP) == []
    assert _products(operations(turn=0.9, flip=0.9, mirror=0.85), STEP) == []


@pytest.mark.parametrize("short", NEEDS)
def test_operations_of_a_strip_are_exact_about_its_centre(short: str) -> None:
    needs = NEEDS[short]
    fits = operations(**dict.fromkeys(needs, 0.96))
    if short == "p2mg":
        # the mirror across is a quarter of a repeat from the centre
        flip = fits["flip"]
        fits["flip"] = replace(flip, shift=flip.shift + STEP / 2)
    for k, name in enumerate(needs, 2):
        fits[name] = replace(fits[name], rms=k / 10, share=0.99 - k / 100)
    ends = MIDDLE + np.outer([-50, 60], ALONG) + np.outer([-5, 5], ACROSS)
    samples = ends.mean(axis=0) + np.array([[1.0, 2], [-1, -2]])
    evidence = SimpleNamespace(samples=samples, segments=ends.reshape(1, 4))
    strip = decide(fits)
    strip = replace(strip, near=(("p2mm", 0.7, 0.4),))
    found = frieze_symmetry(evidence, ROW, strip, frieze_group(short), "")
    assert found.certain
    assert found.repeats_seen == pytest.approx(110 / 26)
    assert np.allclose(found.lattice.basis, STEP)
    assert found.lattice.kind == "line"
    assert found.residual == (0.1 + 0.1 * len(needs) if needs else 0.1)
    own, near = found.candidates
    assert own.fit == pytest.approx(0.98 - len(needs) / 100 if needs else 0.98)
    assert (near.group, near.fit, near.residual) == ("p2mm", 0.7, 0.4)
    centre = np.array(found.centre)
    if needs:
        # on the middle line but for p1m1, of which each height is as good
        if short != "p1m1":
            assert (centre - MIDDLE) @ ACROSS == pytest.approx(0)
        assert len(found.operations) == len(STRIPS[short])
    kinds = {"turn": "rotation", "flip": "reflection", "mirror": "reflection"}
    for name, made in zip(needs, found.operations[1:], strict=True):
        a, b, c, d, e, f = made.map
        assert np.allclose([[a, c], [b, d]], LINEAR[name])
        assert made.kind == kinds.get(name, "glide")
        assert made.order == (0 if name == "glide" else 2)
        assert made.residual == fits[name].rms
        # as measured, but for whole repeats
        steps = (np.array([e, f]) - fits[name].shift) @ np.linalg.pinv(STEP[None])
        assert steps == pytest.approx(np.rint(steps), abs=1e-9)
        assert np.allclose((e, f), fits[name].shift + np.rint(steps) * STEP)
    back = frieze_symmetry(
        evidence, ROW, replace(strip, vector=-STEP), frieze_group(short), "why"
    )
    # the shift points to the right; a doubt is kept
    assert np.allclose(back.lattice.basis, STEP)
    assert (back.certain, back.reason) == (False, "why")
    up = np.array([0.0, -26])
    level = frieze_symmetry(
        evidence, ROW, replace(strip, vector=up), frieze_group("p1"), ""
    )
    assert level.lattice.basis.tolist() == [[0, 26]]


def test_the_centre_of_a_strip_is_nearest_the_middle_of_its_lines() -> None:
    strip = decide(operations(turn=0.96))
    for steps in (-3, 0, 4):
        middle = MIDDLE + (0.5 * steps + 0.2) * STEP + 7 * ACROSS
        centre = _centre_of_strip(strip, ("turn",), middle, ALONG, 26.0)
        # centres of half turns are half a repeat apart
        assert np.allclose(centre, MIDDLE + 0.5 * steps * STEP)
    # a turn and a mirror that disagree meet half way
    fits = operations(turn=0.96, flip=0.96, mirror=0.96)
    flip = fits["flip"]
    fits["flip"] = replace(flip, shift=flip.shift + 2 * 0.4 * ALONG)
    strip = decide(fits)
    centre = _centre_of_strip(strip, NEEDS["p2mm"], MIDDLE, ALONG, 26.0)
    assert np.allclose(centre, MIDDLE + 0.2 * ALONG)
    assert _nearest(13.5, 13) == pytest.approx(0.5)
    assert _nearest(12.5, 13) == pytest.approx(-0.5)


@pytest.mark.parametrize("short", STRIPS)
def test_the_group_of_strokes_carried_along_is_found(short) -> None:
    noise = 0.03
    rng = np.random.default_rng(11)
    motif = strokes(rng, 5, 12.0).reshape(-1, 2) + np.array([1, 2])
    lines = []
    for k in range(-2, 7):
        for x, y, share in STRIPS[short]:
            image = motif * [x, y] + np.array([26 * (k + share), 0])
            image = image + noise * rng.standard_normal(image.shape)
            lines.append(image.reshape(-1, 4))
    turn = rotation(ANGLE)
    rows = np.vstack(lines).reshape(-1, 2) @ turn.T + MIDDLE
    box = np.array([[0, -20], [105, -20], [105, 20], [0, 20]]) @ turn.T + MIDDLE
    edge = np.hstack([box, np.roll(box, -1, axis=0)])
    evidence = build_evidence(rows.reshape(-1, 4), np.arange(len(rows) // 2), edge)
    row = measure_lattice(evidence, STEP[None, :], 2)
    assert row.share > 0.97
    found = find_strip(evidence, Correlator(evidence), row, STEP)
    assert (found.short, found.reason) == (short, "")
    for name in NEEDS[short]:
        fit = found.operations[name]
        assert fit.share > 0.96
        assert fit.rms <= 3 * noise
        if name != "flip":
            # they keep the middle line
            assert fit.shift @ ACROSS == pytest.approx(2 * MIDDLE @ ACROSS, abs=noise)


def test_few_lines_are_tried_step_by_step() -> None:
    # three strokes and their images under a half turn about (60, 5), in three repeats
    motif = np.array([[52.0, 0, 56, 3], [54, 6, 57, 9], [50, 4, 53, 2]])
    whole = np.vstack([motif, np.tile([120, 10], 2) - motif])
    lines = np.vstack([whole + np.array([k, 0, k, 0]) for k in (-26, 0, 26)])
    box = np.array([[20, -2], [100, -2], [100, 12], [20, 12]])
    edge = np.hstack([box, np.roll(box, -1, axis=0)])
    evidence = build_evidence(lines, np.arange(len(lines)), edge)
    step, rows = np.array([26.0, 0]), evidence.thin(3000)
    found = _by_steps(evidence, rows, rotation(math.pi), "turn", step, 5.0)
    off = (found[:, 0] - 120) / 26
    # of at most forty steps in a repeat one is that near
    assert np.abs(off - np.rint(off)).min() < 0.5 / 40
    assert (found[:, 1] == 10).all()
    flips = _by_steps(evidence, rows, reflection(math.pi / 2), "flip", step, 5.0)
    assert (flips[:, 1] == 0).all()
    glide = _by_steps(evidence, rows, reflection(0.0), "glide", step, 5.0)
    assert glide.tolist() == [[13, 10]]


def test_cosets_are_told_by_their_plainest_operation() -> None:
    basis, centre = np.array([[6.0, 0], [0, 8]]), np.array([100.0, 50])
    quarter = rotation(math.pi / 2)
    found = _coset(quarter, np.array([1.0, 0.5]), 6 * np.eye(2), centre, 0.2)
    # whatever whole steps: a centre as near as may be, where x = c + (1 - R)^-1 s
    assert (found.kind, found.order, found.residual) == ("rotation", 4, 0.2)
    third = _coset(rotation(-2 * math.pi / 3), np.zeros(2), basis, centre, 0.0)
    assert (third.kind, third.order) == ("rotation", 3)
    assert _coset(np.eye(2), np.ones(2), basis, centre, 0.3).kind == "identity"
    level = reflection(0.0)
    for shift, kind, order, slide in (
        ((0.0, 0.0), "reflection", 2, (0, 0)),
        ((1.0, 1.0), "reflection", 2, (0, 0)),
        ((0.5, 0.0), "glide", 0, (3, 0)),
        ((0.5, 0.75), "glide", 0, (3, -2)),
    ):
        found = _coset(level, np.array(shift), basis, centre, 0.0)
        assert (found.kind, found.order) == (kind, order)
        own = np.array(found.map[4:]) - (centre - level @ centre)
        assert np.allclose(own, slide)


@pytest.mark.parametrize(
    ("n", "mirrors"), [(1, True), (2, False), (6, True), (9, False)]
)
def test_a_rosette_has_its_turns_and_mirrors_about_its_centre(n, mirrors) -> None:
    centre = np.array([30.0, 40])
    fit = RosetteFit(
        n, 0.3 if mirrors else None, centre, 1, 0.97, 0.2, "", (("D12", 0.85, 0.4),)
    )
    found = rosette_symmetry(fit)
    assert found.group.short == ("D" if mirrors else "C") + str(n)
    assert len(found.operations) == (2 * n if mirrors else n)
    for k, made in enumerate(found.operations):
        a, b, c, d, e, f = made.map
        linear = np.array([[a, c], [b, d]])
        assert np.allclose(linear @ centre + (e, f), centre)
        if k < n:
            assert np.allclose(linear, rotation(2 * math.pi * k / n))
            power = next(m for m in range(1, n + 1) if m * k % n == 0)
            assert made.order == power
            assert made.kind == ("rotation" if k else "identity")
        else:
            assert np.allclose(linear, reflection(0.3 + math.pi * (k - n) / n))
            assert (made.kind, made.order) == ("reflection", 2)
    assert (found.certain, found.residual, found.repeats_seen) == (True, 0.2, n)
    assert [c.group for c in found.candidates] == [found.group.short, "D12"]
    assert not rosette_symmetry(replace(fit, reason="few")).certain
