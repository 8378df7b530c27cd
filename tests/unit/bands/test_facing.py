"""Ends that face each other in line, among few and among very many."""

from __future__ import annotations

import numpy as np
import pytest

from fillwork.bands import facing
from fillwork.bands.facing import facing_ends


def cloud(count: int):
    chance = np.random.default_rng(4)
    angle = chance.random(count) * 2 * np.pi
    at = chance.random((count, 2)) * 300
    return at, np.stack([np.cos(angle), np.sin(angle)], axis=1)


@pytest.mark.parametrize("crowded", [False, True])
def test_pairs_grow_with_the_ends_alone(crowded, monkeypatch):
    at, out = cloud(20_000)
    if crowded:  # all in one spot but one
        at = at * 1e-6
        at[0] = 300, 300
    seen = []
    within = facing.pairs_within

    def counted(*asked):
        seen.append(within(*asked))
        return seen[-1]

    monkeypatch.setattr(facing, "pairs_within", counted)
    one, _, _ = facing_ends(at, out, 24.0)
    assert len(one) > 0
    assert sum(len(row) for row, _ in seen) < 64 * len(at)


def test_ends_asked_about_are_paired_as_among_all():
    at, out = cloud(2_000)
    # twenty pairs that face each other half a millimetre apart
    at = np.concatenate([at, at[:20] + 0.5 * out[:20]])
    out = np.concatenate([out, -out[:20]])
    asked = np.zeros(len(at), bool)
    asked[:20] = True
    everywhere = set(
        zip(*(v.tolist() for v in facing_ends(at, out, 24.0)[:2]), strict=True)
    )
    some = set(
        zip(*(v.tolist() for v in facing_ends(at, out, 24.0, asked)[:2]), strict=True)
    )
    assert {(k, 2_000 + k) for k in range(20)} <= some
    assert {p for p in some if asked[p[0]]} <= everywhere
