"""Rounds of tape against exhaustive search, days against the longest path."""

import itertools
import random

import networkx as nx
import numpy as np
import pytest

from fillwork.colouring.model import Rules
from fillwork.plans.buying import material_words
from fillwork.plans.days import Task, find_days, hours_of_work
from fillwork.plans.model import PaintSettings
from fillwork.plans.schedule_text import time_lines
from fillwork.plans.taping import find_rounds
from tests.unit.plans.test_workshop import made


def fewest_rounds(touching):
    n = len(touching)
    pairs = [(i, j) for i in range(n) for j in range(i) if touching[i, j]]
    for count in range(1, n + 1):
        for rounds in itertools.product(range(count), repeat=n):
            if all(rounds[i] != rounds[j] for i, j in pairs):
                return count
    return n


@pytest.mark.parametrize("seed", range(30))
def test_rounds_against_all_choices(seed):
    draw = np.random.default_rng(seed)
    n = int(draw.integers(1, 8))
    touching = draw.random((n, n)) < draw.uniform(0.2, 0.9)
    touching = touching | touching.T
    rounds = find_rounds(touching)
    assert all(
        rounds[i] != rounds[j] for i in range(n) for j in range(i) if touching[i, j]
    )
    assert max(rounds) + 1 == fewest_rounds(touching)


@pytest.mark.reference("chromatic numbers: Petersen 3, Grötzsch 4, K5 5, C7 3")
@pytest.mark.parametrize(
    ("graph", "least"),
    [
        (nx.petersen_graph(), 3),
        (nx.mycielski_graph(4), 4),
        (nx.complete_graph(5), 5),
        (nx.cycle_graph(7), 3),
        (nx.complete_bipartite_graph(6, 7), 2),
    ],
)
def test_rounds_of_named_graphs(graph, least):
    touching = nx.to_numpy_array(graph) > 0
    assert max(find_rounds(touching)) + 1 == least


@pytest.mark.parametrize("seed", range(20))
def test_days_are_the_longest_path(seed):
    draw = random.Random(seed)
    tasks, graph = [], nx.DiGraph()
    for k in range(draw.randint(2, 10)):
        after = tuple(
            (i, draw.uniform(0, 60), "dry") for i in range(k) if draw.random() < 0.5
        )
        tasks.append(Task(draw.uniform(0.2, 9), draw.choice([0.0, 5.0]), after))
        own = tasks[-1].hours + tasks[-1].between
        graph.add_edge(("start", k), ("end", k), weight=own)
        if k:
            graph.add_edge(("end", k - 1), ("start", k), weight=0.0)
        for i, wait, _ in after:
            graph.add_edge(("end", i), ("start", k), weight=wait)
    found = find_days(tasks, day=24.0)
    assert found[-1].end == pytest.approx(nx.dag_longest_path_length(graph))


def test_hands_rest_at_night():
    first, second = find_days([Task(6.0), Task(5.0)])
    assert first.days == (1, 1)
    assert second.days == (1, 2)
    # short work is not begun in the evening
    # what ends with the day is done on it, and what follows begins on the next
    one, two, none = find_days([Task(24.0), Task(24.0), Task(0.0)], day=24.0)
    assert (one.days, two.days, none.days) == ((1, 1), (2, 2), (3, 3))
    _, short = find_days([Task(7.0), Task(2.0)])
    assert short.days == (2, 2)
    # drying goes on at night: 16 hours from the first evening are the morning
    _, after = find_days([Task(8.0), Task(1.0, after=((0, 16.0, "dry"),))])
    assert after.days == (2, 2)
    assert after.start == pytest.approx(24.0)


def test_work_by_hand():
    # 2 coats of 1 m² at 0.5 m²/h, 4 m of edge at 8 m/h, a quarter hour each
    assert hours_of_work(1e6, 4000, 2, (0.5, 8.0)) == pytest.approx(2 * 2.75)


def test_steps_wait_for_the_whole_chain():
    schedule, _, _ = made([0, 1, 2, 3], PaintSettings(under="midnight"))
    fills = [s for s in schedule.steps if s.kind == "fill"]
    starts = [s.days[0] for s in schedule.steps]
    assert starts == sorted(starts)
    # squares of a chequer: kinds 0 and 3 touch in corners alone
    assert "does not touch straw" in fills[1].reason
    assert "touches reed: let that dry first, straw too" in fills[2].reason
    varnish = schedule.steps[-1]
    # acrylic cures in three days
    assert varnish.days[0] >= schedule.steps[-2].days[1] + 3
    assert "3 days to cure" in varnish.wait


def test_drying_and_cure_of_the_palette_count():
    from tests.unit.plans.test_workshop import HALL

    slow = HALL.replace(b'medium = "acrylic"', b'medium = "acrylic"\ncure = "20 d"', 1)
    schedule, _, _ = made([0, 1, 2, 3], data=slow)
    assert schedule.steps[-1].days[0] > 20


def test_varnish_waits_for_the_outlines_too():
    from tests.unit.plans.test_second_visit import GOLD

    def wait(outline, data):
        rules = Rules(outline=outline, outline_width=1.0)
        schedule, _, _ = made([0, 1, 2, 3], rules=rules, data=data)
        *_, line, varnish = schedule.steps
        assert (line.kind, varnish.kind) == ("line", "varnish")
        return varnish.days[0] - line.days[1], varnish.wait

    # the oil size under a gilded line sets in three days, acrylic cures in three,
    # and oil paint in half a year
    assert wait("gold", GOLD.encode())[0] >= 3
    assert wait("chalk", GOLD.encode())[0] >= 3
    oil = GOLD.replace('name = "chalk"', 'name = "chalk"\ncure = "40 d"', 1)
    days, words = wait("chalk", oil.encode())
    assert days >= 40
    assert "the outlines" in words


def test_tape_by_step():
    settings = PaintSettings(under="midnight", tape=True)
    schedule, _, _ = made([0, 1, 2, 3], settings)
    taped = [s for s in schedule.steps if s.tape]
    real = {q.swatch: q.edge for q in schedule.quantities}
    assert sum(s.tape for s in taped) == pytest.approx(real[1] + real[2] + real[3])
    by_round = {}
    for step in (s for s in schedule.steps if s.round):
        by_round.setdefault(step.round, set()).add(step.swatch)
    # 1 and 2 touch 3; 1 and 2 meet in corners only, so they go together
    assert sorted(map(sorted, by_round.values())) == [[1, 2], [3]]
    assert len(taped) == 2
    assert "Tape the edges of" in taped[0].text
    assert any("hold tape" in s.wait for s in taped)
    (tape,) = [m for m in schedule.materials if m.name == "masking tape"]
    assert "roll" in material_words(tape)
    # gouache is lifted by tape
    from tests.unit.plans.test_workshop import HALL

    data = HALL.replace(b'medium = "acrylic"', b'medium = "gouache"', 1)
    schedule, _, _ = made([0, 1, 2, 3], settings, data=data)
    assert not any(s.tape for s in schedule.steps)
    assert any("tape lifts gouache" in s.text for s in schedule.steps)


def test_hours_are_told_at_a_pace_alone():
    plain, _, _ = made([0, 1, 2, 3])
    assert not any(s.hours for s in plain.steps)
    paced, _, _ = made([0, 1, 2, 3], PaintSettings(pace=(0.25, 4.0)))
    fill = next(s for s in paced.steps if s.kind == "fill")
    q = next(q for q in paced.quantities if q.swatch == fill.swatch)
    hand = q.coats * (0.25 + q.area_real * 1e-6 / 0.25 + q.edge * 1e-3 / 4.0)
    assert fill.hours == pytest.approx(hand)


def test_each_step_names_what_it_needs():
    schedule, _, _ = made([0, 1, 2, 4], PaintSettings(under="midnight"))
    needs = {s.kind: s.needs for s in schedule.steps}
    assert "masking film" in needs["bare"]
    assert "tracing paper" in needs["under"]
    assert "white chalk" in needs["under"]
    assert any("brush" in n for n in needs["fill"])
    named = {m.name for m in schedule.materials}
    assert {n for s in schedule.steps for n in s.needs} == named


def test_work_goes_on_over_several_nights_by_hand():
    # 20 hours at 8 a day: 8 on the first, 8 on the second from hour 24, 4 on the
    # third from hour 48
    (found,) = find_days([Task(20.0)])
    assert (found.start, found.end) == (0.0, pytest.approx(52.0))
    assert found.days == (1, 3)


def test_a_step_waits_for_what_ends_last_alone():
    def of(*after):
        tasks = [Task(1.0), Task(1.0), Task(1.0, after=after)]
        return find_days(tasks, day=24.0)[2]

    # without nights: ready at 1 + 5 and at 2 + 9 hours
    assert of((0, 5.0, "first"), (1, 9.0, "second")).waits_for == ((1, 9.0, "second"),)
    alike = of((0, 9.0, "first"), (1, 8.0, "second"))
    assert [why for _, _, why in alike.waits_for] == ["first", "second"]
    assert alike.start == pytest.approx(10.0)


@pytest.mark.parametrize(
    ("media", "swatches", "told"),
    [
        # m² an hour that the days are reckoned with: drawn 0.1, gilded 0.15, rolled 5
        ("pencil", [0, 0, 0, 0], "at 0.1 m² an hour"),
        ("leaf", [0, 0, 0, 0], "at 0.15 m² an hour"),
        ("leaf", [0, 0, 0, 1], "at 0.1 m² drawn and 0.15 m² gilded an hour"),
        ("acrylic", [0, 0, 0, 0], "at 0.5 m² and 8 m of edge an hour"),
        ("bare", [0, 0, 0, 0], "8 hours a day; paces"),
    ],
)
@pytest.mark.parametrize("pace", [None, (0.25, 4.0)])
def test_the_pace_told_is_the_one_reckoned_with(media, swatches, told, pace):
    data = (
        f'[[paint]]\nname="a"\ncolour="gold"\nmedium="{media}"\n'
        '[[paint]]\nname="b"\ncolour="navy"\nmedium="pencil"\n'
    )
    settings = PaintSettings(pace=pace, primer="none", varnish="none")
    schedule, _, _ = made(swatches, settings, data=data.encode())
    (line,) = time_lines(schedule)
    if pace and media == "acrylic":
        told = "at your pace"
    assert told in line


def test_the_pace_of_gilding_is_told_as_it_is_reckoned():
    data = b'[[paint]]\nname="a"\ncolour="gold"\nmedium="leaf"\n'
    settings = PaintSettings(pace=(0.25, 4.0), primer="none", varnish="none")
    schedule, _, _ = made([0, 0, 0, 0], settings, data=data)
    (gild,) = schedule.steps
    # 0.96 m² at 0.15 m² an hour, and a quarter of an hour to set out
    assert gild.hours == pytest.approx(0.25 + 0.96 / 0.15)
