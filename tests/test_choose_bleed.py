"""The choice of a treble bleed: against brute force, ngspice, a closed form, and laws."""

from __future__ import annotations

import dataclasses
import itertools

import numpy as np
import pytest

import guitarnet as gn
from guitarnet.solve.spice import run_ngspice
from guitarnet.study.choose import bleed as choose_bleed
from guitarnet.study.choose.bleed import choose_treble_bleed
from guitarnet.study.choose.bleed_result import pareto
from guitarnet.study.choose.networks import FORMS, combinations, read_candidates
from guitarnet.study.choose.port import port
from guitarnet.study.choose.score import BleedGoal, Scores
from guitarnet.study.formulas.handover import to_spice

PICKUP = gn.Pickup("6.2k", "2.4 H", "120p")
CABLES = {"cable.length": ["1 m", "3 m", "6 m"]}


@pytest.fixture(scope="module")
def guitar():
    return gn.layouts.one_pickup(PICKUP, cable="5 m")


@pytest.fixture(scope="module")
def found(guitar):
    """Both aims, E6, three cables."""
    return choose_treble_bleed(guitar, series="E6", **CABLES)


@pytest.fixture(scope="module")
def in_e3(guitar):
    return choose_treble_bleed(guitar, series="E3")


def plain_numbers(guitar, part, marks, taper_of=None, low=200, high=5000, **settings):
    """Treble and taper of one bleed, written out: response() and means over a fine grid.

    The weights are Simpson's over log frequency, another rule than the one under test.
    """
    from scipy.integrate import simpson

    f = np.geomspace(low, high, 401)
    order = [*marks, 10]

    def levels(bled):
        h = gn.response(bled, frequency=np.append(100.0, f), volume=order, **settings)
        h = h.transpose(..., "volume", "frequency")
        return 20 * np.log10(np.abs(h.values)).reshape(-1, len(order), f.size + 1)

    own, without = levels(guitar.replace("treble_bleed", part)), levels(guitar)
    shape = own[..., 1:] - own[..., :1]
    shape = shape - shape[:, -1:]
    level = own[..., 0] - own[:, -1:, 0] - without[..., 0] + without[:, -1:, 0]
    per_mark = simpson(shape**2, x=np.log(f), axis=-1) / np.log(high / low)
    treble = np.sqrt(per_mark[:, :-1].mean(axis=-1)).max()
    taper = np.sqrt((level[:, :-1] ** 2).mean(axis=-1)).max()
    return treble, taper, shape


def test_numbers_of_every_row(guitar, found):
    """Treble, taper, worst and overshoot of the whole table, written out another way."""
    assert len(found) > 12
    for choice in found:
        base = choice.guitar if choice.form == "wiring" else guitar
        treble, taper, shape = plain_numbers(base, choice.part, range(1, 10), **CABLES)
        assert choice.treble == pytest.approx(treble, rel=2e-3), choice.network
        if choice.form != "wiring":  # whose level is told against the guitar as it was
            assert choice.taper == pytest.approx(taper, rel=1e-9, abs=1e-12)
        assert abs(choice.worst) == pytest.approx(abs(shape).max(), abs=0.02)
        assert choice.score.overshoot == pytest.approx(max(shape.max(), 0), abs=0.02)


def test_none_is_the_measure_it_compares_with(guitar):
    """The worst deviation without a bleed is what `treble_change` says."""
    found = choose_treble_bleed(guitar, forms=["capacitor"], series="E3")
    h = gn.response(guitar, volume=range(1, 11))
    change = gn.treble_change(h)
    mark = float(abs(change.worst).idxmax())
    none = found["none"]
    assert none.worst == pytest.approx(float(change.worst.sel(volume=mark)), abs=0.01)
    assert none.score.worst_at["volume"] == mark
    hertz = float(change.worst_frequency.sel(volume=mark))
    assert none.score.worst_at["frequency"] == pytest.approx(hertz, rel=0.02)
    assert none.taper < 1e-12


def test_the_winner_by_brute_force(guitar):
    """scipy.optimize.brute over the same 49 parallel networks, by numbers of our own."""
    from scipy.optimize import brute

    caps = gn.values.preferred_values("E3", "100p", "10n")
    ohms = gn.values.preferred_values("E3", "10k", "1M")
    marks = [8, 5, 2]

    def cost(place):
        part = gn.parallel_bleed(caps[int(place[0])], ohms[int(place[1])])
        treble, taper, _ = plain_numbers(guitar, part, marks)
        return np.hypot(treble, taper)

    slices = (slice(0, len(caps), 1), slice(0, len(ohms), 1))
    place, least, _, every = brute(cost, slices, full_output=True, finish=None)
    goal = BleedGoal(marks=marks)
    result = choose_treble_bleed(
        guitar, goal=goal, forms=["parallel"], capacitors=caps, resistors=ohms, rows=4
    )
    best = next(choice for choice in result if choice.form == "parallel")
    expected = gn.parallel_bleed(caps[int(place[0])], ohms[int(place[1])])
    assert best.part == expected
    assert best.cost == pytest.approx(least, rel=2e-3)
    ranking = np.argsort(every.ravel())[:4]
    ours = [c.part for c in result if c.form == "parallel"][:4]
    assert ours == [gn.parallel_bleed(caps[i // len(ohms)], ohms[i % len(ohms)]) for i in ranking]


def test_the_winner_in_ngspice(ngspice, guitar, found):
    """The winner's worst deviation and change of level, from ngspice alone."""
    best = found.best
    at = best.score.worst_at
    metres = at["cable.length"]

    def level(part, mark, hertz):
        with_part = guitar.replace("treble_bleed", part).replace("cable.length", metres)
        text = to_spice(with_part, frequency=(hertz, 2 * hertz), per_decade=4, volume=mark)
        return 20 * np.log10(abs(run_ngspice(text)[1][0]))

    def shape(mark):
        return level(best.part, mark, at["frequency"]) - level(best.part, mark, 100.0)

    assert shape(at["volume"]) - shape(10) == pytest.approx(best.worst, abs=1e-6)
    changes = [
        level(best.part, m, 100.0) - level(best.part, 10, 100.0)
        - level(None, m, 100.0) + level(None, 10, 100.0)
        for m in range(1, 10)
    ]  # fmt: skip
    assert np.sqrt(np.mean(np.square(changes))) <= best.taper * (1 + 1e-6)


def test_a_compensated_divider():
    """A source without impedance: the capacitor C_cable R_lower / R_upper keeps every shape.

    The textbook's compensated attenuator (P. Horowitz, W. Hill, The Art of Electronics, on
    oscilloscope probes; from memory): equal time constants above and below.
    """
    source = gn.Pickup(1e-3, 1e-9, 1e-15, unusual=True)
    guitar = gn.layouts.one_pickup(
        source, volume=gn.Pot("250k", "linear"), tone=None, cable=gn.Cable("5 m", "100p"), amp="1M"
    )
    mark = 4
    upper, lower = 250e3 * (1 - mark / 10), 1 / (1 / (250e3 * mark / 10) + 1 / 1e6)
    expected = 500e-12 * lower / upper
    goal = BleedGoal(marks=[mark], band=("200 Hz", "20 kHz"), taper=0)
    found = choose_treble_bleed(guitar, goal=goal, forms=["capacitor"], series="E192")
    free = found.searched[0]
    assert free.between[0] == pytest.approx(expected, rel=2e-3)
    assert free.between_cost < 1e-3
    assert found.best.part.capacitance == pytest.approx(expected, rel=0.007)  # half a step


@pytest.mark.long
def test_more_candidates_are_never_worse(guitar):
    """E3 is part of E6, and E6 of E12."""
    two = ["parallel", "series"]
    costs = [
        min(one.cost.min() for one in choose_treble_bleed(guitar, series=s, forms=two).searched)
        for s in ("E3", "E6", "E12")
    ]
    assert costs[0] >= costs[1] >= costs[2]


def test_more_conditions_are_never_easier(guitar, found):
    """The worst of three cables costs each network at least what one of them does."""
    one = choose_treble_bleed(guitar.replace("cable.length", "6 m"), series="E6")
    for mine, theirs in zip(one.searched, found.searched, strict=True):
        np.testing.assert_array_equal(mine.values, theirs.values)
        # On the frequencies of the search, which all share; the best are scored on finer ones.
        costs = [np.hypot(*one.rows[:, :2].T) for one in (mine, theirs)]
        assert (costs[0] <= costs[1] + 1e-9).all()
    assert abs(found["none"].worst) == pytest.approx(abs(one["none"].worst))  # 6 m is the worst


def test_the_mean_lies_under_the_worst(guitar, found):
    mean = choose_treble_bleed(guitar, goal=BleedGoal(over="mean"), series="E6", **CABLES)
    for mine, theirs in zip(mean.searched, found.searched, strict=True):
        assert (mine.rows[:, :2] <= theirs.rows[:, :2] + 1e-9).all()


def test_the_mean_is_a_root_mean_square(guitar):
    """Each cable's own number, written out, then their root mean square."""
    goal = BleedGoal(over="mean")
    found = choose_treble_bleed(guitar, goal=goal, series="E3", forms=["parallel"], **CABLES)
    best = next(choice for choice in found if choice.form == "parallel")
    each = [
        plain_numbers(guitar.replace("cable.length", metres), best.part, range(1, 10))[:2]
        for metres in CABLES["cable.length"]
    ]
    treble, taper = np.sqrt(np.mean(np.square(each), axis=0))
    assert best.treble == pytest.approx(treble, rel=2e-3)
    assert best.taper == pytest.approx(taper, rel=1e-6)
    assert "Over cable length 1 m, 3 m, 6 m the root mean square counts." in str(found)


def test_the_change_of_level_has_a_sign(guitar):
    """Largest in size against the guitar without a bleed, written out; 50s wiring takes level."""
    found = choose_treble_bleed(guitar, series="E3", forms=["parallel"])

    def taper(harness):
        return gn.effective_taper(gn.response(harness, volume=range(1, 11))).values

    for choice in found:
        change = taper(choice.guitar) - taper(guitar)
        expected = change[abs(change).argmax()]
        assert choice.score.level == pytest.approx(expected, abs=1e-9)
    assert found["none, 50s wiring"].score.level < -1


def test_marks_that_one_condition_does_not_sound():
    """A mark that is silent somewhere in one condition's band counts in the others alone."""
    harness = gn.layouts.one_pickup(PICKUP)
    goal = BleedGoal(marks=[7, 3], over="mean")
    f, weights = goal.frequencies(6)
    y = FORMS["capacitor"].admittance(f, [[470e-12]])

    def seen(marks, metres):
        settings = {"volume": [*marks, 10], "cable.length": metres}
        return port(harness, "treble_bleed", f, settings)

    def rows(one, marks):
        own = BleedGoal(marks=marks, over="mean")
        return Scores(one, weights, own, "volume").many(y)[0]

    both = seen([7, 3], ["1 m", "6 m"])
    heard = np.ones(both.open.shape, bool)
    here = {"volume": 1, "cable.length": 0, "frequency": 5}
    heard[tuple(here[str(dim)] for dim in both.open.dims)] = False
    quiet = dataclasses.replace(both, open=both.open * heard, short=both.short * heard)
    found = rows(quiet, [7, 3])
    each = rows(seen([7], ["1 m"]), [7]), rows(seen([7, 3], ["6 m"]), [7, 3])
    assert found[:2] == pytest.approx(np.sqrt(np.mean(np.square(each), axis=0))[:2], rel=1e-9)
    assert found[2] == pytest.approx(max(one[2] for one in each), rel=1e-9)


def test_the_limit_itself_is_within(guitar):
    goal = BleedGoal(marks=[5], within=3.0)
    f, weights = goal.frequencies(6)
    scores = Scores(
        port(guitar, "treble_bleed", f, {"volume": [5, 10]}), weights, goal, "volume"
    )  # fmt: skip
    # A millionth over is as large: processors differ in the last digits.
    rows = np.array([[3.0, 4.0, worst] for worst in (3.0, 3.000001, 3.00001)])
    assert scores.cost(rows).tolist() == [5.0, 5.0, np.inf]


OTHERS = [
    gn.layouts.one_pickup(PICKUP, cable="5 m"),
    gn.layouts.one_pickup(
        gn.Pickup("14k", "8 H", "150p"), volume=gn.Pot("500k", "audio 15%"), cable="2 m"
    ),
]


def every_network(task, series):
    """Rows of every network, coarse and fine."""
    values = read_candidates(series, {"F": None, "ohm": None})
    for form in FORMS.values():
        own = combinations([values[unit] for unit in form.units])
        yield tuple(
            scores.many(form.admittance(scores.frequency, own))
            for scores in (task.coarse, task.fine)
        )


@pytest.mark.parametrize("harness", OTHERS)
def test_the_search_errs_by_less_than_it_allows_for(harness):
    """What the coarse frequencies miss is well inside the margins that are scored again."""
    task = choose_bleed._BleedSearch(harness, BleedGoal(), (None, None, "amp"), {}, {})
    for coarse, fine in every_network(task, "E6"):
        costs = [np.hypot(*rows[:, :2].T) for rows in (coarse, fine)]
        near = costs[1] < costs[1].min() + 1
        assert abs(costs[0] - costs[1])[near].max() < choose_bleed._OFF / 2
        assert abs(coarse - fine)[near, 2].max() < choose_bleed._OFF_LIMIT / 2


@pytest.mark.long
@pytest.mark.parametrize("harness", OTHERS)
def test_the_best_near_a_limit(harness, draws):
    """Every network on the table's frequencies, by brute force, with limits just met."""
    task = choose_bleed._BleedSearch(harness, BleedGoal(), (None, None, "amp"), {}, {})
    rows = np.concatenate([fine for _, fine in every_network(task, "E3")])
    costs = np.hypot(*rows[:, :2].T)
    for place in np.argsort(costs)[[1, 20, 5, 60][: draws(2, 4)]]:
        limit = rows[place, 2] * (1 + 1e-9)
        found = choose_treble_bleed(harness, goal=BleedGoal(within=limit), series="E3")
        expected = costs[rows[:, 2] <= limit].min()
        searched = min(one.cost.min() for one in found.searched)
        assert searched == pytest.approx(expected, rel=1e-9)
        shown = [c.cost for c in found if c.form in FORMS]
        assert min(shown) == pytest.approx(expected, rel=1e-6)


def test_rounding_is_told_as_the_table_tells_it(guitar, found):
    """The same network, the same cost in both tables."""
    rows = {row[0]: row for row in found.rounding()}
    for form in FORMS:
        best = min(choice.cost for choice in found if choice.form == form)
        assert float(rows[form][4]) == pytest.approx(best, abs=5.1e-4)


def test_leaving_the_taper_out(guitar, in_e3):
    """Then no network keeps more treble; and weights of the taper trade one for the other."""
    found = in_e3
    treble = choose_treble_bleed(guitar, goal="treble", series="E3")
    assert treble.best.treble == min(choice.treble for choice in treble)
    assert treble.best.treble < found.best.treble
    assert treble.best.taper > found.best.taper
    heavy = choose_treble_bleed(guitar, goal=BleedGoal(taper=100), series="E3")
    assert heavy.best.taper <= found.best.taper


@pytest.mark.long
def test_the_search_rounds_where_it_cannot_try_all(guitar, monkeypatch):
    """From a thinned grid, by simplex and neighbours, to the winner that all of them give."""
    whole = choose_treble_bleed(guitar, series="E12", forms=["series", "series with parallel"])
    monkeypatch.setattr(choose_bleed, "_MOST", 300)
    monkeypatch.setattr(choose_bleed, "_START", 200)
    part = choose_treble_bleed(guitar, series="E12", forms=["series", "series with parallel"])
    assert all(one.whole for one in whole.searched)
    assert not any(one.whole for one in part.searched)
    for all_of_them, some in zip(whole.searched, part.searched, strict=True):
        assert len(some.values) < len(all_of_them.values)
        assert some.cost.min() == pytest.approx(all_of_them.cost.min(), rel=1e-9)


def test_no_value_between_is_beaten(found):
    """The continuous search begins at the best of the grid, so it never ends above it."""
    for one in found.searched:
        assert one.between_cost <= one.cost.min() + 1e-9
    rows = list(found.rounding())
    assert [row[0] for row in rows] == list(FORMS)
    assert all(float(row[2]) <= float(row[4]) for row in rows)


def test_what_always_competes(guitar, found):
    """None, the other wiring, what is there, and one's own."""
    assert {"none", "none, 50s wiring"} <= {choice.network for choice in found}
    there = guitar.replace("treble_bleed", "150k || 1n")
    few = {"series": "E3", "forms": ["capacitor"]}
    more = choose_treble_bleed(there, networks=["1.2n + 130k"], **few, **CABLES)
    names = {choice.network for choice in more}
    assert {"none", "as it is: 150 kΩ ∥ 1 nF", "1.2 nF + 130 kΩ", "none, 50s wiring"} <= names
    assert more["none"].treble == pytest.approx(found["none"].treble)
    fifties = gn.layouts.one_pickup(PICKUP, cable="5 m", wiring="50s")
    result = choose_treble_bleed(fifties, **few)
    assert "none, modern wiring" in {choice.network for choice in result}
    alone = choose_treble_bleed(gn.layouts.one_pickup(PICKUP, tone=None), **few)
    assert [c for c in alone if c.form == "wiring"] == []


def test_the_other_wiring_has_no_bleed(guitar):
    """Though the place is filled, what competes is none, wired otherwise."""
    there = guitar.replace("treble_bleed", "150k || 1n")
    moved, plain = (
        choose_treble_bleed(g, forms=["capacitor"], capacitors=["1n"])["none, 50s wiring"]
        for g in (there, guitar)
    )
    assert moved.guitar.parts["treble_bleed"] == guitar.parts["treble_bleed"]
    assert (moved.treble, moved.taper) == pytest.approx((plain.treble, plain.taper))


def test_why_no_other_wiring_competes():
    """Behind a switch, or shared: the table says so; without a tone control there is no word."""
    humbucker = gn.Humbucker(*[gn.Coil("4k", "2 H", "150p")] * 2, connection="leads")
    one = {"series": "E3", "forms": ["capacitor"]}
    words = "No other wiring compared: the tone control does not belong to this pot alone."
    for guitar in (
        gn.layouts.hss(PICKUP, PICKUP, humbucker),
        gn.layouts.three_single_coils(PICKUP, PICKUP, PICKUP),
    ):
        found = choose_treble_bleed(guitar, **one)
        assert words in str(found)
        assert not any(choice.form == "wiring" for choice in found)
    assert "No other" not in str(choose_treble_bleed(gn.layouts.one_pickup(PICKUP), **one))
    plain = gn.layouts.one_pickup(PICKUP, tone=None)
    assert "No other" not in str(choose_treble_bleed(plain, **one))
    unlike = {"a": gn.layouts.one_pickup(PICKUP), "b": plain}
    assert "the guitars are not wired alike" in str(choose_treble_bleed(unlike, **one))


def test_independent_wiring_is_called_so():
    for wiring, other in (("independent", "independent 50s"), ("independent 50s", "independent")):
        guitar = gn.layouts.one_pickup(PICKUP, wiring=wiring)
        found = choose_treble_bleed(guitar, series="E3", forms=["capacitor"])
        assert [c.network for c in found if c.form == "wiring"] == [f"none, {other} wiring"]


def test_only_ones_own(guitar):
    found = choose_treble_bleed(guitar, forms=[], networks=["1n", gn.parallel_bleed("1n", "150k")])
    assert found.searched == ()
    assert {choice.form for choice in found} == {"none", "wiring", "own"}


def test_several_guitars_and_ranges(guitar):
    """Pickups as builds, pots as a sweep: the worst of all four."""
    humbucker = gn.layouts.one_pickup(gn.Pickup("8.2k", "4.6 H", "150p"), cable="5 m")
    both = {"single": guitar, "humbucker": humbucker}
    pots = {"volume.resistance": ["200k", "300k"]}
    found = choose_treble_bleed(both, series="E3", forms=["capacitor"], **pots)
    for choice in found:
        if choice.form == "wiring":
            continue
        each = [
            plain_numbers(g.replace("volume.resistance", ohms), choice.part, range(1, 10))
            for g, ohms in itertools.product(both.values(), pots["volume.resistance"])
        ]
        assert choice.treble == pytest.approx(max(one[0] for one in each), rel=2e-3)
        assert choice.taper == pytest.approx(max(one[1] for one in each), rel=1e-6, abs=1e-9)
        assert set(choice.score.worst_at) == {"volume", "frequency", "build", "volume.resistance"}
    assert set(found.best.guitar) == set(both)


def test_categories_are_conditions(guitar):
    """Tapers as a list: one bleed for both."""
    tapers = {"volume.taper": ["linear", "audio 15%"]}
    found = choose_treble_bleed(guitar, series="E3", forms=["capacitor"], **tapers)
    each = [
        plain_numbers(guitar.replace("volume.taper", t), found.best.part, range(1, 10))[0]
        for t in tapers["volume.taper"]
    ]
    assert found.best.treble == pytest.approx(max(each), rel=2e-3)


def test_weights(guitar):
    """Weight on one mark alone is a search with that mark alone; so with half the band."""
    goal = BleedGoal(marks=[3, 7], mark_weights={3: 1, 7: 0})
    one = choose_treble_bleed(guitar, goal=goal, series="E3", forms=["capacitor"])
    other = choose_treble_bleed(guitar, goal=BleedGoal(marks=[3]), series="E3", forms=["capacitor"])
    assert one.best.part == other.best.part
    assert one.best.treble == pytest.approx(other.best.treble, rel=1e-12)
    assert one.best.worst == pytest.approx(other.best.worst, rel=1e-12)
    weighted = BleedGoal(marks=[3], frequency_weight=lambda f: f >= 1000)
    one = choose_treble_bleed(guitar, goal=weighted, series="E3", forms=["capacitor"])
    treble, _, _ = plain_numbers(guitar, one.best.part, [3], low=1000)
    assert one.best.treble == pytest.approx(treble, rel=0.02)


def test_a_limit(guitar, in_e3):
    """Those within it come first, though others may cost less."""
    free = in_e3
    limit = 0.9 * abs(free.best.worst)
    bound = choose_treble_bleed(guitar, goal=BleedGoal(within=limit), series="E3")
    assert abs(bound.best.worst) <= limit
    assert bound.best.treble**2 + bound.best.taper**2 >= free.best.cost**2
    order = [np.isfinite(choice.cost) for choice in bound]
    assert order == sorted(order, reverse=True)
    assert "Those within" in str(bound)


def test_pareto():
    """Nothing on the front is beaten; everything else is (seeded, against all pairs)."""
    points = np.random.default_rng(3).uniform(0, 9, (200, 2)).round(1)
    front = pareto(points)
    beaten = [any((q <= p).all() and (q < p).any() for q in points) for p in points]
    on = {tuple(points[i]) for i in front}
    assert on == {tuple(p) for p, lost in zip(points, beaten, strict=True) if not lost}
    assert list(points[front, 1]) == sorted(points[front, 1])


def test_the_front_counts_hundredths_and_no_last_digits():
    """What gains less than 0.01 dB is left out; equal points stand once, the first of them."""
    points = np.array([[2.0, 1.0], [1.996, 1.02], [1.5, 2.0], [1.5, 2.0], [1.495, 2.1], [0.5, 3.0]])
    assert pareto(points) == [0, 2, 5]
    for seed in range(20):
        draws = np.random.default_rng(seed)
        assert pareto(points * (1 + draws.uniform(-1e-9, 1e-9, points.shape))) == [0, 2, 5]
    assert pareto(np.array([[1.0, 1.0 + 1e-12], [1.0 + 1e-12, 1.0]])) == [0]
    assert pareto(np.zeros((0, 2))) == []


def test_the_front_of_the_table(found):
    front = found.front
    assert found.best in front
    assert all(a.taper <= b.taper and a.treble >= b.treble for a, b in itertools.pairwise(front))


def test_the_table(guitar):
    """Whole, as it prints."""
    found = choose_treble_bleed(
        guitar, forms=["capacitor"], capacitors=["1n", "150p"], price={"capacitor": 0.25}
    )
    assert str(found).splitlines() == EXPECTED.splitlines()
    assert found.table()._repr_html_() == found._repr_html_()
    assert found.best.price == 0.25
    assert found.builds("none").keys() == {"none"}
    assert list(found.builds())[:2] == [found.best.network, "none"]


EXPECTED = """\
Treble bleeds for one pickup
   network           treble [dB]  taper [dB]  worst [dB]  worst at           overshoot [dB]  parts  price  front
1  150 pF                   1.24        0.00        -4.7  volume 8, 3.9 kHz             4.6      1   0.25  yes
2  none, 50s wiring         1.45        0.98        -4.2  volume 7, 3.7 kHz             0.6      0   0.00
3  none                     1.84        0.00        -5.5  volume 7, 4 kHz               0.0      0   0.00
4  1 nF                     5.19        0.07       +14.4  volume 1, 2.9 kHz            14.4      1   0.25
Treble: rms deviation of the shape from volume 10, 200 Hz to 5 kHz, every octave equal, levels \
matched at 100 Hz. Taper: rms change of the level at 100 Hz re volume 10, compared with the guitar \
without a bleed. Marks: 0 to 9, 10 of them, all equal; silent ones left out. Ranked by the root \
of treble² + taper². 2 networks tried. Front: no other row is better on both counts. These are \
numbers, not taste.
"""  # noqa: E501


GUITAR = gn.layouts.one_pickup(PICKUP)


@pytest.mark.parametrize(
    ("call", "message"),
    [
        (
            lambda: choose_treble_bleed(GUITAR, goal="trebel"),
            "goal: there is no goal 'trebel'; did you mean 'treble'?",
        ),
        (
            lambda: choose_treble_bleed(GUITAR, goal=3),
            "goal: 3 is no goal; give 'treble' or gn.choosing.BleedGoal(...).",
        ),
        (
            lambda: choose_treble_bleed(GUITAR, capacitors=[]),
            "capacitors: is an empty list; give at least one value.",
        ),
        (
            lambda: choose_treble_bleed(GUITAR, forms=[]),
            "forms: is an empty list; name a form, or give your own networks.",
        ),
        (
            lambda: choose_treble_bleed(GUITAR, forms=["paralel"]),
            "forms: there is no 'paralel'; did you mean 'parallel'?",
        ),
        (
            lambda: choose_treble_bleed(GUITAR, series="E13"),
            "series: 'E13' is not a series of preferred values; use E3, E6, E12, E24, E48, E96 or "
            "E192.",
        ),
        (
            lambda: choose_treble_bleed(GUITAR, resistors="150k"),
            "resistors: a str is no list; give a list of values.",
        ),
        (
            lambda: choose_treble_bleed(GUITAR, volume=[10, 5]),
            "volume: is the knob that is turned; give marks in "
            "goal=gn.choosing.BleedGoal(marks=...).",
        ),
        (
            lambda: choose_treble_bleed(GUITAR, treble_bleed="1n"),
            "treble_bleed: is the place of the candidates; leave the setting out.",
        ),
        (
            lambda: choose_treble_bleed(GUITAR, place="tone_capacitor"),
            "tone_capacitor: is not across a pot; name the pot you turn: knob='volume'.",
        ),
        (
            lambda: choose_treble_bleed(GUITAR, networks=["none"]),
            "networks: 'none' is no network; leave it out: none competes anyway.",
        ),
        (
            lambda: choose_treble_bleed(GUITAR, price={"coil": 3}),
            "price: 'coil' is no part of a bleed; give prices of 'capacitor' and 'resistor'.",
        ),
        (
            lambda: choose_treble_bleed(PICKUP),
            "guitar: a Pickup is not a harness; give a Harness, such as "
            "gn.layouts.one_pickup(...).",
        ),
        (
            lambda: choose_treble_bleed(
                GUITAR, goal=BleedGoal(within=0.01), forms=["capacitor"], capacitors=["100p", "1n"]
            ),
            "goal.within: no candidate keeps the shape within 0.01 dB; the best reached is "
            "-2.2 dB, with none, 50s wiring; allow more, narrow the band or the conditions, or "
            "give more candidates.",
        ),
        (
            lambda: BleedGoal(band=(5000, 200)),
            "goal.band: (5000, 200) is no band; give (low, high) in hertz.",
        ),
        (
            lambda: BleedGoal(marks=[10]),
            "goal.marks: holds no mark below 10; give at least one.",
        ),
        (
            lambda: BleedGoal(over="best"),
            "goal.over: 'best' is unknown; use 'worst' or 'mean'.",
        ),
        (
            lambda: BleedGoal(marks=[5], mark_weights={4: 1}),
            "goal.mark_weights: 4 is no mark of it; add the mark.",
        ),
        (
            lambda: BleedGoal(marks=[5], mark_weights={5: 0}),
            "goal.mark_weights: leave nothing below 10; give one above 0.",
        ),
        (
            lambda: choose_treble_bleed(GUITAR, goal=BleedGoal(frequency_weight=lambda f: 0 * f)),
            "goal.frequency_weight: gives no weights; return numbers from 0, not all 0.",
        ),
        (
            lambda: choose_treble_bleed(GUITAR, goal=BleedGoal(marks=[0])),
            "volume: is silent at every mark below 10; add marks above 0.",
        ),
        (
            lambda: choose_treble_bleed(GUITAR, forms=3),
            "forms: an int is no list; give a list, such as ['capacitor', 'parallel', "
            "'series', 'series with parallel'].",
        ),
        (
            lambda: choose_treble_bleed(GUITAR, networks=None),
            "networks: a NoneType is no list; give a list, such as ['150k || 1n'].",
        ),
        (
            lambda: choose_treble_bleed(GUITAR, price=[1, 2]),
            "price: a list is no mapping; give prices of 'capacitor' and 'resistor'.",
        ),
        (
            lambda: choose_treble_bleed(GUITAR, price={"capacitor": "abc"}),
            "price of a capacitor: 'abc' is not a number; give a plain number.",
        ),
        (
            lambda: choose_treble_bleed(GUITAR, price={"capacitor": -1}),
            "price of a capacitor: -1 is negative; give a value from 0.",
        ),
        (
            lambda: choose_treble_bleed(GUITAR, price={"resistor": float("nan")}),
            "price of a resistor: nan is not a number; give a finite value from 0.",
        ),
        (
            lambda: choose_treble_bleed(GUITAR, rows=-1),
            "rows: -1 is no whole number from 0; give one, as 8.",
        ),
        (
            lambda: choose_treble_bleed(GUITAR, rows=2.5),
            "rows: 2.5 is no whole number from 0; give one, as 8.",
        ),
        (
            lambda: choose_treble_bleed(GUITAR, rows="a"),
            "rows: 'a' is no whole number from 0; give one, as 8.",
        ),
        (
            lambda: choose_treble_bleed({"a": GUITAR, "b": 3}),
            "guitar: an int is not a harness; give a Harness, such as "
            "gn.layouts.one_pickup(...).",
        ),
        (
            lambda: choose_treble_bleed({}),
            "guitar: a NoneType is not a harness; give a Harness, such as "
            "gn.layouts.one_pickup(...).",
        ),
        (
            lambda: BleedGoal(band=(3,)),
            "goal.band: is a list of 1, not of two; give (low, high) in hertz.",
        ),
        (
            lambda: BleedGoal(band=5),
            "goal.band: an int is no list; give (low, high) in hertz.",
        ),
        (
            lambda: BleedGoal(marks=5),
            "goal.marks: an int is no list; give marks from 0 to 10, such as [8, 5, 2].",
        ),
        (
            lambda: BleedGoal(mark_weights=[1, 2]),
            "goal.mark_weights: a list is no mapping; give weights by mark, such as {5: 2}.",
        ),
        (
            lambda: BleedGoal(mark_weights={"a": 1}),
            "goal.mark_weights: 'a' is not a knob mark; give a number from 0 to 10.",
        ),
        (
            lambda: BleedGoal(frequency_weight=3),
            "goal.frequency_weight: an int is no function; give one from frequencies to "
            "weights, such as lambda f: f > 1000.",
        ),
        (
            lambda: choose_treble_bleed(
                GUITAR, goal=BleedGoal(frequency_weight=lambda f: np.ones(3))
            ),
            "goal.frequency_weight: an ndarray of shape (3,) came of 29 frequencies; "
            "return one number for each frequency.",
        ),
        (
            lambda: choose_treble_bleed(GUITAR, goal=BleedGoal(frequency_weight=lambda f: "a")),
            "goal.frequency_weight: a str of shape () came of 29 frequencies; return one "
            "number for each frequency.",
        ),
    ],
)  # fmt: skip
def test_bad_input(call, message):
    with pytest.raises(gn.GuitarnetError) as caught:
        call()
    assert str(caught.value) == message


def test_a_network_that_is_not_in_the_table(found):
    with pytest.raises(gn.errors.BadSetting) as caught:
        found["nonee"]
    assert str(caught.value) == "network: 'nonee' is not in the table; did you mean 'none'?"


def test_a_volume_that_is_not_heard_is_refused():
    """With the switch at the other pickup nothing can be ranked; the sentence says what to set."""
    guitar = gn.layouts.two_humbuckers(PICKUP, PICKUP)
    with pytest.raises(gn.errors.BadSetting) as refusal:
        choose_treble_bleed(guitar, place="bridge_bleed")
    assert str(refusal.value) == (
        "bridge_volume: changes nothing audible with switch at neck; set the switch to "
        "another place."
    )
    found = choose_treble_bleed(
        guitar, place="bridge_bleed", switch="bridge", series="E6", forms=["capacitor"]
    )
    assert found["none"].treble > 0
