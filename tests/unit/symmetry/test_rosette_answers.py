"""Which turns and mirrors lines are said to have, of how each is told to fit."""

from __future__ import annotations

import math
from dataclasses import replace
from types import SimpleNamespace

import numpy as np
import pytest

from fillwork.symmetry.lines import rosette
from fillwork.symmetry.lines.mirrors import Mirror, RosetteFit
from tests.unit.symmetry.answers import given

NUMBERS = (2, 3, 4, 6, 9)
ORIGIN = np.zeros(2)


def lines(radius=100.0, count=100, scale=1.0, pieces=None):
    """Return lines of which samples lie on a circle about the origin."""
    angle = np.arange(count) * 2 * math.pi / count
    return SimpleNamespace(
        samples=radius * np.column_stack([np.cos(angle), np.sin(angle)]),
        scale=scale,
        piece=np.arange(count) if pieces is None else np.arange(count) % pieces,
        thin=lambda most: np.arange(min(most, count)),
    )


def carried(share, weakest=(), seen=(), lacking=(), evidence=None, numbers=NUMBERS):
    """Return turns that carry such a share of lines, in all and in the weakest ring."""
    evidence = lines() if evidence is None else evidence
    asked = []

    def lacks(row, order, level):
        asked.append((numbers[row], order, level))
        return dict(lacking).get(numbers[row], 0.0)

    of = [
        np.array([dict(own).get(n, usual) for n in numbers])
        for own, usual in ((share, 0.99), (weakest, 1.0), ((), 0.1), (seen, 100.0))
    ]
    return SimpleNamespace(
        evidence=evidence,
        rows=np.arange(100),
        centre=ORIGIN,
        scores=lambda level: tuple(np.array(a) for a in of),
        lacking=lacks,
        asked=asked,
    )


def orders(patch, *, level=2, numbers=NUMBERS, **facts):
    given(patch, rosette, least_seen=0.5)
    turns = carried(facts.pop("share", {}), numbers=numbers, **facts)
    return rosette._orders(turns, numbers, level), turns.asked


def test_orders_hold_with_all_their_divisors(monkeypatch) -> None:
    told, asked = orders(monkeypatch)
    assert (told.held, told.broken) == ([2, 3, 4, 6, 9], [])
    # each is asked for what its largest divisor has and it has not
    assert asked == [(4, 2, 2), (6, 3, 2), (9, 3, 2)]
    for facts, held in (
        ({"share": {4: 0.92}}, [2, 3, 6, 9]),
        ({"share": {4: 0.93}}, [2, 3, 4, 6, 9]),
        ({"weakest": {4: 0.79}}, [2, 3, 6, 9]),
        ({"weakest": {4: 0.8}}, [2, 3, 4, 6, 9]),
        ({"share": {3: 0.9}}, [2, 4]),
        ({"share": {2: 0.9}}, [3, 9]),
        # of a cut figure turns by a half are not seen
        ({"seen": {2: 49.0}}, [3, 4, 6, 9]),
        ({"seen": {2: 50.0}, "share": {2: 0.5}}, [3, 9]),
        ({"seen": {4: 49.0}}, [2, 3, 6, 9]),
    ):
        assert orders(monkeypatch, **facts)[0].held == held


def test_a_turn_that_hardly_moves_lines_proves_nothing(monkeypatch) -> None:
    # 2 pi times the radius over 9 must be more than six times what may be missed
    most = 6 * rosette.LADDER[2]
    for radius, held in ((1.01, [2, 3, 4, 6, 9]), (0.99, [2, 3, 4, 6])):
        evidence = lines(radius * most * 9 / (2 * math.pi))
        told, _ = orders(monkeypatch, evidence=evidence)
        assert told.held == held
        assert told.share[9] == (0.99 if held[-1] == 9 else 0)
    wide = lines(10.1 * most * 9 / (2 * math.pi), scale=10.0)
    assert orders(monkeypatch, evidence=wide)[0].held[-1] == 9


def test_a_detail_breaks_an_order_and_its_multiples(monkeypatch) -> None:
    # 0.002 of the lines, or a quarter of what the turn misses
    for share, lacks, broken in (
        (1.0, 0.0021, [4]),
        (1.0, 0.0019, []),
        (0.98, 0.0051, [4]),
        (0.98, 0.0049, []),
    ):
        facts = {"share": {4: share}, "lacking": {4: lacks}}
        told, _ = orders(monkeypatch, **facts)
        assert told.broken == broken
        assert (4 in told.held) is (not broken)
    # an order that does not hold, but nearly, may be broken as well
    told, _ = orders(monkeypatch, share={4: 0.8}, lacking={4: 0.06})
    assert told.broken == [4]
    told, asked = orders(monkeypatch, share={4: 0.79}, lacking={4: 0.06})
    assert (told.broken, 4 in [n for n, *_ in asked]) == ([], False)
    # what no divisor of holds is asked for nothing
    told, asked = orders(monkeypatch, lacking={2: 1.0, 3: 1.0})
    assert (told.broken, len(asked)) == ([], 3)
    # a multiple of 8 that comes near lets 4 be asked
    told, asked = orders(
        monkeypatch, numbers=(2, 4, 8), share={4: 0.5, 8: 0.8}, lacking={4: 0.2}
    )
    assert told.broken == [4]


def test_a_larger_order_nearly_holds() -> None:
    def larger(n, share=0.8, weakest=0.51, held=(2,), broken=()):
        told = rosette._Orders(
            list(held), list(broken), {3: 0.9, n: share}, {3: 1.0, n: weakest}, {}
        )
        return told.larger(2)

    assert larger(4) == 4
    assert larger(4, share=0.79) is None
    assert larger(4, weakest=0.5) is None
    assert larger(4, held=(2, 4)) is None
    assert larger(4, broken=(4,)) is None
    assert larger(8, broken=(4,)) is None
    assert larger(6, broken=(4,)) == 6
    assert larger(5) is None
    assert larger(2) is None


MIRROR = Mirror(0.3, 0.99, 0.1, 1.0, 0.0)
NO_MIRROR = Mirror(0.3, 0.5, 0.1, 0.4, 0.0)


def order(*held, broken=(), share=(), weakest=(), rms=()):
    numbers = {2, 3, 4, 6, *held, *broken, *dict(share), *dict(rms)}
    of = [
        {n: dict(own).get(n, usual) for n in sorted(numbers)}
        for own, usual in ((share, 0.0), (weakest, 1.0), (rms, 0.1))
    ]
    of[0] |= {n: dict(share).get(n, 0.98) for n in held}
    return rosette._Orders(list(held), list(broken), *of)


def climbed(patch, levels, mirrors=None, *, pieces=None, lacking=(), rows=24, **facts):
    """Return the group about a centre, of orders that hold at each step."""
    mirrors = mirrors or {}
    lacks = dict(lacking)
    asked = given(
        patch,
        rosette,
        telling_samples=np.arange(rows),
        _numbers=(2, 3, 4, 6, 9),
        turned_by_all=SimpleNamespace(
            lacking=lambda row, n, level: lacks.get(row, 0.0)
        ),
        _orders=lambda turns, numbers, level: levels.get(level, order()),
        best_mirror=lambda e, rows, centre, n, level: mirrors.get(level, NO_MIRROR),
    )
    evidence = lines(pieces=pieces, **facts)
    return rosette._climb(evidence, ORIGIN), asked


def told(fit):
    mirror = "C" if fit.mirror is None else "D"
    return f"{mirror}{fit.n}", fit.level, fit.share, fit.rms, fit.reason


def test_the_largest_order_that_fits_about_as_closely_holds(monkeypatch) -> None:
    fit, _ = climbed(monkeypatch, {1: order(2, 4)})
    assert told(fit) == ("C4", 1, 0.98, 0.1, "")
    assert fit.centre is ORIGIN
    close, _ = climbed(monkeypatch, {1: order(2, 4, rms={2: 0.05, 4: 0.06})})
    assert told(close) == ("C4", 1, 0.98, 0.06, "")
    # 1.45 times what the closest misses, and 6 more for each line: of 24 lines 1.7,
    # and 0.004 scales and 0.02 for each line: 0.0048
    for miss, n in ((0.174, "C4"), (0.176, "C2")):
        found, _ = climbed(monkeypatch, {1: order(2, 4, rms={4: miss})})
        assert told(found)[0] == n
    # of four lines 2.95 times, and 0.009
    for miss, n in ((0.303, "C4"), (0.305, "C2")):
        found, _ = climbed(monkeypatch, {1: order(2, 4, rms={4: miss})}, pieces=4)
        assert told(found)[0] == n
    for miss, n in ((0.38, "C4"), (0.39, "C2")):
        levels = {1: order(2, 4, rms={4: miss})}
        assert told(climbed(monkeypatch, levels, pieces=4, scale=10.0)[0])[0] == n
    assert climbed(monkeypatch, {})[0] is None
    assert climbed(monkeypatch, {1: order(2)}, rows=23)[0] is None


def test_mirrors_hold_as_turns_do(monkeypatch) -> None:
    levels = {1: order(2)}

    def mirrored(**facts):
        return climbed(monkeypatch, levels, {1: MIRROR._replace(**facts)})[0]

    assert told(mirrored()) == ("D2", 1, 0.98, 0.1, "")
    assert mirrored().mirror == 0.3
    assert told(mirrored(share=0.93)) == ("D2", 1, 0.93, 0.1, "")
    assert told(mirrored(rms=0.15)) == ("D2", 1, 0.98, 0.15, "")
    # what nearly holds is a doubt
    doubt = "mirrors fit {} % of the lines"
    for facts, share in (
        ({"share": 0.92}, 92),
        ({"share": 0.8}, 80),
        ({"weakest": 0.79}, 99),
        ({"weakest": 0.51}, 99),
        ({"rms": 0.176}, 99),
    ):
        found = mirrored(**facts)
        assert told(found)[::4] == ("C2", doubt.format(share))
        ((near, own, miss),) = found.near
        assert (near, own, miss) == (
            "D2",
            facts.get("share", 0.99),
            facts.get("rms", 0.1),
        )
    for facts in ({"share": 0.79}, {"weakest": 0.5, "share": 0.9}, {"weakest": 0.5}):
        assert told(mirrored(**facts))[::4] == ("C2", "")
    # a detail that all images lack breaks them: 0.002, or a quarter of what they miss
    for lacks, name in ((0.0024, "D2"), (0.0026, "C2")):
        found = mirrored(lacking=lacks)
        assert told(found)[::4] == (name, "")
    for lacks, name in ((0.0019, "D2"), (0.0021, "C2")):
        assert told(mirrored(share=1.0, lacking=lacks))[::4] == (name, "")


def test_orders_that_nearly_hold_are_doubts(monkeypatch) -> None:
    said = "turns by 1/4 fit 85 % of the lines"
    levels = {1: order(2, share={4: 0.85, 2: 0.97})}
    found, _ = climbed(monkeypatch, levels)
    assert told(found) == ("C2", 1, 0.97, 0.1, said)
    assert found.near == (("C4", 0.85, 0.1),)
    found, _ = climbed(monkeypatch, levels, {1: MIRROR})
    assert found.near == (("D4", 0.85, 0.1),)
    # where corners stray an end that runs past its line is no design
    detail = "turns by 1/4 fit all but a detail of the lines"
    for share, lacks, miss, reason in (
        (0.985, 0.005, 0.0021, detail),
        (0.984, 0.005, 0.0021, ""),
        (0.985, 0.0051, 0.0021, ""),
        (0.985, 0.005, 0.0019, ""),
    ):
        levels = {1: order(2, broken=(4,), share={4: share}, rms={2: miss, 4: miss})}
        found, _ = climbed(monkeypatch, levels, lacking={2: lacks})
        assert found.reason == reason
        assert found.near == ((("C4", 1 - lacks, miss),) if reason else ())
    # of 3 an order of 4 is no multiple
    levels = {1: order(3, broken=(4,), share={4: 0.99})}
    assert climbed(monkeypatch, levels)[0].reason == ""


def test_a_looser_step_may_show_more(monkeypatch) -> None:
    two, four, six = order(2), order(2, 4), order(2, 3, 6)
    doubtful = order(2, share={4: 0.85})
    for levels, name, level in (
        ({0: two, 1: two}, "C2", 0),
        # more turns, of which those that held are some
        ({0: two, 1: four}, "C4", 1),
        ({0: order(3), 1: four}, "C3", 0),
        ({0: two, 2: six}, "C6", 2),
        # what is in doubt gives way to what is sure, and no more
        ({0: doubtful, 1: two}, "C2", 1),
        ({0: doubtful, 1: order(3)}, "C3", 1),
        ({0: doubtful, 1: order(2, share={4: 0.9})}, "C2", 0),
        ({0: two, 1: order(2, 4, share={12: 0.9}), 2: order(6)}, "C2", 0),
    ):
        found, _ = climbed(monkeypatch, levels)
        assert told(found)[:2] == (name, level)


def fit(n, share=0.9, *, mirror=None, reason="", level=1):
    return RosetteFit(n, mirror, ORIGIN, level, share, 0.1, reason)


def found(patch, tries, *, thorough=True, cut=(), count=100, inside=True):
    """Return what is found, of what each centre that is tried has."""
    stages = {}

    def voted(evidence, correlator, primes):
        stages[primes] = True
        return [(np.array([9.0, len(stages)]), primes)]

    def tried(evidence, centre, primes, climbed):
        return tries.get(primes)

    depth = np.ones((4, 6)) if inside else np.zeros((4, 6))
    evidence = lines(count=count)
    evidence.window = SimpleNamespace(
        depth=depth, pixel=2.0, corner=np.array([10.0, 20])
    )
    asked = given(
        patch,
        rosette,
        widened=evidence,
        voted_centres=voted,
        cut_figures=[(ORIGIN, "beside")] if cut else [],
        _try_centre=tried,
        find_mirror=fit(1),
    )
    return rosette.find_rosette(None, None, thorough=thorough), asked, list(stages)


def test_centres_are_tried_until_one_is_sure(monkeypatch) -> None:
    primes, large, cut = rosette.PRIMES, rosette.LARGE_PRIMES, rosette.CUT_ORDERS
    first, last = primes[:4], primes[4:]
    five, nine = fit(5), fit(9)
    doubtful = fit(12, reason="few")
    best, asked, voted = found(monkeypatch, {primes: five})
    assert (best, voted) == (five, [])
    # about the middle of the lines, and of what is seen: 6 by 4 pixels of 2 mm
    centres = [k[0][1].tolist() for k in asked["_try_centre"]]
    assert centres[1] == centres[3] == pytest.approx([16, 24])
    assert centres[0] == centres[2] == pytest.approx([0, 0])
    assert [k[0][2] for k in asked["_try_centre"]] == [primes, primes, large, large]
    assert found(monkeypatch, {primes: five, large: nine})[0] is nine
    assert found(monkeypatch, {primes: nine, large: five})[0] is nine
    # where nothing is sure what lines vote for is tried, first of small primes
    for tries, told_, stages in (
        ({first: five}, five, [first]),
        ({primes: doubtful, first: five}, five, [first]),
        ({primes: doubtful, last: five}, five, [first, last]),
        ({primes: doubtful}, doubtful, [first, last]),
    ):
        best, _, voted = found(monkeypatch, tries)
        assert best is told_
        assert voted == stages
    many = 2 * rosette.FEW_SAMPLES
    assert found(monkeypatch, {}, count=many)[2] == [first, last]
    assert found(monkeypatch, {}, count=many + 1)[2] == [first, primes[4:8]]
    # a figure that is cut is tried with orders of its own, beside its cut
    best, asked, _ = found(monkeypatch, {cut: five}, cut=True)
    assert best is five
    assert asked["_try_centre"][4][0][0] == "beside"
    assert found(monkeypatch, {cut: five, primes: nine}, cut=True)[0] is nine
    # where nothing turns a mirror is looked for
    assert found(monkeypatch, {})[0].n == 1
    assert found(monkeypatch, {}, thorough=False)[0] is None
    assert found(monkeypatch, {last: five}, thorough=False)[::2] == (None, [first])
    assert found(monkeypatch, {primes: five}, inside=False)[0] is None


def tried(patch, quick, telling, *, rows=24, primes=(2, 3, 5), reach=100.0, **facts):
    """Return what a centre has, of shares of a quick look and of telling samples."""
    shares = iter((quick, telling))

    def turned(evidence, centre, rows, level, primes):
        share = np.array(next(shares), float)
        seen = np.array(facts.get("seen", [100.0] * len(share)))
        return SimpleNamespace(scores=lambda at: (share.copy(), None, None, seen))

    fits = facts.get("fits", {2: fit(2), 3: fit(3), 5: fit(5)})
    asked = given(
        patch,
        rosette,
        turned_by_all=turned,
        telling_samples=np.arange(rows),
        least_seen=0.5,
        refine_centre=lambda evidence, rows, centre, n: np.array([n, 0.0]),
        _reached=lambda evidence, at, climbed: fits.get(int(at[0])),
    )
    told_ = rosette._try_centre(lines(reach), ORIGIN, primes, [])
    return told_ and told_.n, asked


def test_a_centre_is_tried_by_the_two_primes_that_fit_most(monkeypatch) -> None:
    all_ = (0.9, 0.9, 0.9)
    assert tried(monkeypatch, all_, (0.7, 0.9, 0.8))[0] == 5
    assert tried(monkeypatch, all_, (0.9, 0.8, 0.7))[0] == 3
    assert tried(monkeypatch, all_, (0.9, 0.59, 0.5))[0] == 2
    assert tried(monkeypatch, all_, (0.9, 0.6, 0.5))[0] == 3
    assert tried(monkeypatch, all_, (0.6, 0.5, 0.5))[0] == 2
    assert tried(monkeypatch, all_, (0.59, 0.5, 0.5))[0] is None
    # a quick look first: half of some lines
    assert tried(monkeypatch, (0.5, 0, 0), all_)[0] == 3
    told_, asked = tried(monkeypatch, (0.49, 0, 0), all_)
    assert (told_, len(asked["telling_samples"])) == (None, 0)
    assert tried(monkeypatch, all_, all_, rows=23)[0] is None
    # images must be seen: of those samples at first a quarter, then a half
    seen = {"seen": [12.0, 12.0, 12.0]}
    assert tried(monkeypatch, all_, all_, **seen)[0] is None
    assert tried(monkeypatch, all_, all_, seen=[25.0, 9, 9])[0] == 2
    assert tried(monkeypatch, all_, all_, seen=[24.9, 9, 9])[0] is None
    # the better of two
    fits = {2: fit(9), 3: fit(3)}
    assert tried(monkeypatch, all_, (0.9, 0.8, 0.1), fits=fits)[0] == 9
    fits = {2: fit(9, reason="few"), 3: fit(3)}
    assert tried(monkeypatch, all_, (0.9, 0.8, 0.1), fits=fits)[0] == 3
    assert tried(monkeypatch, all_, (0.9, 0.8, 0.1), fits={})[0] is None
    # of a cut figure that which holds more closely
    fits = {2: fit(9, level=2), 3: fit(3, level=1)}
    share = (0.9, 0.9, *[0.0] * (len(rosette.CUT_ORDERS) - 2))
    told_, _ = tried(monkeypatch, share, share, primes=rosette.CUT_ORDERS, fits=fits)
    assert told_ == 3


def test_large_primes_must_move_the_lines(monkeypatch) -> None:
    step = 6 * rosette.LADDER[2]
    fits = {67: fit(67), 71: fit(71)}
    for reach, told_ in ((71.1, 71), (70.9, 67), (66.9, None)):
        own = (0.9,) * (2 if reach > 71 else 1)
        share, telling = own, own
        found_, asked = tried(
            monkeypatch,
            share,
            telling,
            primes=(67, 71),
            reach=reach * step / (2 * math.pi),
            fits=fits,
        )
        assert found_ == told_
        for (_, _, _, level, primes), _ in asked["turned_by_all"]:
            assert (level, primes) == (2, (67, 71)[: len(own)])


def test_centres_that_were_reached_are_looked_at_once(monkeypatch) -> None:
    asked = given(monkeypatch, rosette, _climb=fit(5))
    evidence, known = lines(scale=10.0), [(np.array([3.0, 4.0]), None)]
    assert rosette._reached(evidence, np.array([3.0, 4.0 + 0.9e-8]), known) is None
    assert asked["_climb"] == []
    assert rosette._reached(evidence, np.array([3.0, 4.0 + 1.1e-8]), known).n == 5
    assert len(known) == 2
    assert rosette._reached(evidence, np.array([3.0, 4.0 + 1.1e-8]), known).n == 5
    assert len(asked["_climb"]) == 1


def test_a_stated_rosette_is_held_where_it_fits_most(monkeypatch) -> None:
    shares = {0.0: 0.95, 16.0: 0.97, 9.0: 0.9}

    def held(n, mirrors, best=MIRROR, least=24, **facts):
        own = shares | facts.get("shares", {})

        def score(evidence, rows, centre, maps, level):
            share = own[float(round(centre[0]))]
            return SimpleNamespace(
                scores=lambda level: (np.array([share]), None, np.array([0.2]), None)
            )

        evidence = lines()
        evidence.window = SimpleNamespace(
            depth=np.ones((4, 6)), pixel=2.0, corner=np.array([10.0, 20])
        )
        asked = given(
            monkeypatch,
            rosette,
            widened=evidence,
            hold_mirror=facts.get("mirror"),
            voted_centres=[(np.array([9.0, 0]), (2,))],
            telling_samples=lambda evidence, start: np.arange(
                least if start[0] > 12 else 24
            ),
            refine_centre=lambda evidence, rows, start, n: start,
            Carried=score,
            best_mirror=best,
        )
        return rosette.hold_rosette(None, None, n, mirrors), asked

    told_, asked = held(6, False)
    assert (told_.share, told_.mirror, told_.reason) == (0.97, None, "")
    assert told_.centre.tolist() == pytest.approx([16, 24])
    assert asked.last("voted_centres", 2) == (2, 3)
    ((_, _, _, ((linear, shift),), level), _) = asked["Carried"][0]
    assert level == 3
    assert np.allclose(linear, rosette.rotation(math.pi / 3))
    assert np.allclose(shift, 0)
    assert held(6, False, least=23)[0].share == 0.95
    told_, _ = held(6, True)
    assert (told_.share, told_.rms, told_.mirror) == (0.97, 0.2, 0.3)
    told_, _ = held(6, True, MIRROR._replace(share=0.5, rms=0.4))
    assert (told_.share, told_.rms) == (0.5, 0.4)
    assert told_.reason == "it fits 50 % of the lines"
    low = {16.0: 0.5, 0.0: 0.929}
    assert held(6, False, shares=low)[0].reason == "it fits 93 % of the lines"
    assert held(6, False, shares=low | {0.0: 0.93})[0].reason == ""
    told_, asked = held(1, True, mirror=fit(1, 0.8))
    assert (told_.n, told_.reason) == (1, "it fits 80 % of the lines")
    assert asked.last("hold_mirror", 2) == 3
    assert held(1, True)[0] is None


def test_what_stands_free_turns_with_its_outline(monkeypatch) -> None:
    def free(turn, inside=1.0, **facts):
        evidence = lines(count=200)
        evidence.window = SimpleNamespace(
            depth_at=lambda points: np.where(np.arange(200) < 200 * inside, 1.0, 0.0)
        )
        given(monkeypatch, rosette, widened=evidence)
        return rosette.stands_free(evidence, replace(fit(turn, 0.985), **facts))

    assert free(5)
    assert not free(5, share=0.984)
    assert not free(5, reason="few")
    assert free(5, inside=0.985)
    assert not free(5, inside=0.98)
