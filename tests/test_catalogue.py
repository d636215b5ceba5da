"""The catalogue of measured pickups: against the recorded curves, closed forms and ngspice."""

from __future__ import annotations

import math
import re

import numpy as np
import pytest
import xarray as xr

import guitarnet as gn
from catalogue import FILE, NAMES, TOLD, changes, entry as generated
from guitarnet.errors import BadSetting, BadValue
from guitarnet.fitting import Load, PeakReading, Unknown
from guitarnet.solve.spice import run_ngspice
from guitarnet.study.formulas.handover import to_spice
from pickups import SEEN, THIRD, loads, measured, pickup_sets

EVERY = list(gn.catalogue.pickups.values())
BAND = (80.0, 10e3)


@pytest.fixture(scope="module")
def sets():
    return pickup_sets()


def refused(function, *args, **options):
    with pytest.raises((BadSetting, BadValue)) as refusal:
        function(*args, **options)
    return str(refusal.value)


# -- the file -------------------------------------------------------------------------------------


def test_every_undisturbed_set_stands_there_once(sets):
    """Those whose three curves agree in level; generic names, each unique."""
    clear = {name for name, one in sets.items() if one.level == "clear"}
    assert [one.measured_as for one in EVERY] == list(NAMES)
    assert set(NAMES) == clear
    assert len({one.name for one in EVERY}) == len(EVERY) == 29
    assert [one.number for one in EVERY] == list(range(1, 30))
    assert gn.catalogue.kinds == tuple(dict.fromkeys(kind for kind, _ in NAMES.values()))
    for one in EVERY:
        assert one.licence == "CC0 1.0"
        assert "open dataset" in one.source
        assert f"catalogue {one.number}: {one.name};" in one.pickup.source
        assert set(one.curves) == {*SEEN, THIRD}


def test_the_ohms_in_a_name_are_those_of_the_pickup():
    """Within 5 %: a name stays when a fit moves a little."""
    for one in EVERY:
        named = gn.values.read_value(one.name.rpartition(" ")[2], "ohm")
        assert named == pytest.approx(one.values["resistance"].value, rel=0.05), one.name


def test_what_is_stated_is_what_the_dataset_states(sets):
    for one in EVERY:
        known = sets[one.measured_as]
        stated = {"resistance": known.resistance, "inductance": known.inductance}
        units = {"resistance": "ohm", "inductance": "H"}
        expected = {k: gn.values.read_value(v, units[k]) for k, v in stated.items() if v}
        assert one.told == expected
        for name, value in expected.items():
            fitted = one.values[name]
            assert abs(fitted.value - value) < 3 * max(fitted.error, 0.015 * value)


def test_it_follows_from_the_curves(sets):
    """One set is fitted anew; tools/catalogue.py --check does all."""
    data = gn.catalogue.entry(4)
    again = generated(sets[data.measured_as], data.kind, data.name)
    assert FILE.name == "catalogue.json"
    was = {
        "name": data.name,
        "values": {k: [v.value] for k, v in {**data.values, **data.loads}.items()},
        "part": again["part"],
    }
    assert changes({"pickups": [was]}, {"pickups": [again]}) == []
    lugs = gn.layouts.pickup_alone(data.pickup)
    assert gn.harness_to_dict(lugs)["parts"]["pickup"] == {
        **again["part"],
        "source": data.pickup.source,
    }


# -- against what was recorded --------------------------------------------------------------------


def in_the_rig(one, load):
    """The part in a harness with the load of a curve and the instrument that was fitted."""
    known = {name: fitted.value for name, fitted in one.loads.items()}
    parts = {
        "pickup": one.pickup,
        "instrument": gn.Resistor(known["instrument resistance"]),
        "jack": gn.Jack(),
    }
    if load == THIRD:
        parts |= {"load": gn.Resistor("200k"), "capacitor": gn.Capacitor("470p")}
    elif load == "load-large-capacitor":
        parts["capacitor"] = gn.Capacitor(
            known["large capacitor capacitance"],
            dissipation=known["large capacitor dissipation"],
        )
    ends = [[f"{n}.a", f"{n}.b"] for n in ("instrument", "load", "capacitor") if n in parts]
    hot = ["pickup.hot", "jack.tip", *(a for a, _ in ends)]
    ground = ["pickup.ground", "jack.sleeve", *(b for _, b in ends)]
    return gn.Harness(parts, [tuple(hot), tuple(ground)], name="rig")


def binned(curve):
    """Means in thirtieths of a decade over the band of the fit: frequency, level."""
    f = curve.frequency
    inside = (f >= BAND[0]) & (f <= BAND[1])
    group = np.floor(30 * np.log10(f[inside] / BAND[0]) + 1e-6).astype(int)
    _, group = np.unique(group, return_inverse=True)
    count = np.bincount(group)
    hertz = np.exp(np.bincount(group, np.log(f[inside])) / count)
    return hertz, np.bincount(group, curve.level[inside]) / count


@pytest.mark.parametrize("load", [THIRD, "unloaded"])
def test_a_part_misses_the_recorded_curve_by_what_the_catalogue_states(sets, load):
    """The part in a guitar's own solver, loaded as it was measured, against the recorded curve.

    Curves: the open dataset, CC0, in tests/reference/pickup_sets. Levels are matched.
    """
    for one in EVERY:
        hertz, level = binned(measured(sets[one.measured_as], load, TOLD))
        h = gn.response(in_the_rig(one, load), frequency=hertz, at="jack")
        off = 20 * np.log10(np.abs(h.values)) - level
        assert np.std(off) == pytest.approx(one.curves[load], abs=0.02), one.name


def test_the_model_meets_the_recorded_curves():
    """29 sets of three curves: 0.1 dB in the median, and none is missed by 1 dB."""
    misses = [missed for one in EVERY for missed in one.curves.values()]
    assert len(misses) == 87
    assert np.median(misses) < 0.15
    assert max(misses) < 0.8


def test_a_measured_pickup_is_the_same_circuit_in_ngspice(ngspice):
    """With its ladder of losses, loaded; ngspice is an independent simulator."""
    for number in (3, 9, 17):
        guitar = gn.layouts.one_pickup(gn.ready_pickup(number), treble_bleed="1n")
        frequency, expected = run_ngspice(to_spice(guitar, per_decade=5, volume=6))
        found = gn.response(guitar, frequency=frequency, volume=6).values
        assert np.abs(found / expected - 1).max() < 1e-8


# -- errors ---------------------------------------------------------------------------------------


def test_a_fit_to_readings_has_the_covariance_of_its_readings():
    """Ohms within 1.5 %, henry within 3 % beside a prior of one: var = 1/(1/0.03^2 + 1)."""
    fit = gn.fit_pickup(resistance="6.2k", inductance="2.4 H")
    variance = np.diag(fit.covariance.sel(value=["resistance", "inductance"],
                                          value_2=["resistance", "inductance"]))  # fmt: skip
    assert variance[0] == pytest.approx(0.015**2, rel=1e-3)
    assert variance[1] == pytest.approx(1 / (1 / 0.03**2 + 1), rel=1e-2)
    assert fit.values["resistance"].error == pytest.approx(6200 * 0.015, rel=2e-3)
    assert np.isnan(fit.missed).all()


def test_draws_have_the_mean_and_covariance_of_the_fit():
    """Logarithms; of 500 draws means within 5 standard errors, covariance within a fifth."""
    one = gn.catalogue.entry(5)
    names = ["resistance", "inductance", "capacitance"]
    drawn = gn.fitting.draw_pickup(one, "bridge", 500, seed=3)
    logs = np.log([drawn[f"bridge.{name}"].values for name in names])
    expected = one.covariance.sel(value=names, value_2=names).values
    middle = np.log([one.values[name].value for name in names])
    sd = np.sqrt(np.diag(expected))
    assert np.all(np.abs(logs.mean(axis=1) - middle) < 5 * sd / math.sqrt(500))
    found = np.cov(logs)
    assert np.abs(found - expected).max() < 0.2 * sd.max() ** 2
    assert np.corrcoef(logs)[0, 1] == pytest.approx(expected[0, 1] / sd[0] / sd[1], abs=0.15)
    assert {path.partition(".")[0] for path in drawn} == {"bridge"}
    again = gn.fitting.draw_pickup(one, "bridge", 5, seed=3)
    assert all(np.allclose(again[p], values[:5], rtol=1e-12) for p, values in drawn.items())


def test_stated_errors_are_those_of_the_covariance():
    """An error is that of the logarithm times the value, of a share s times s (1 - s)."""
    for one in EVERY:
        sd = np.sqrt(np.diag(one.covariance.values))
        for (name, fitted), within in zip({**one.values, **one.loads}.items(), sd, strict=True):
            share = name in ("eddy_share", "eddy_order")
            by = fitted.value * (1 - fitted.value) if share else fitted.value
            assert fitted.error == pytest.approx(within * by, rel=0.06, abs=1e-15), name


# -- bands by what they come from -----------------------------------------------------------------


def test_bands_by_cause():
    """Each by itself, and all together, half a width of 90 % at some frequencies."""
    one = gn.catalogue.entry(3)
    guitar = gn.layouts.one_pickup(one.pickup)
    f = [100.0, 1000.0, 3000.0]
    band = gn.tolerances.bands_by_cause(guitar, {"pickup": one}, count=300, seed=1, frequency=f)
    assert band.cause.values.tolist() == ["measurement", "model", "other parts", "all"]
    half = (band.isel(quantile=-1) - band.isel(quantile=0)) / 2
    # The other parts alone: the pickup's own paths left out of a spread of the whole guitar.
    drawn = {
        path: values
        for path, values in gn.tolerances.spread(guitar, 300, seed=1).items()
        if not path.startswith("pickup.")
    }
    level = gn.level_db(gn.response(guitar, drawn, frequency=f), re="reference")
    edges = np.quantile(level.values, [0.05, 0.95], axis=level.dims.index("sample"))
    assert np.allclose(half.sel(cause="other parts"), (edges[1] - edges[0]) / 2, atol=0.02)
    # The model: 1.645 standard deviations of a normal distribution (tables).
    missed = np.interp(np.log(f), np.log(one.missed.frequency), one.missed)
    assert np.allclose(half.sel(cause="model"), 1.6449 * missed, atol=1e-4)
    alone = half.drop_sel(cause="all")
    together = np.sqrt((alone**2).sum("cause"))
    assert np.allclose(half.sel(cause="all"), together, rtol=0.15, atol=0.02)
    assert float(half.sel(cause="measurement").isel(frequency=0)) < 0.01, "re 100 Hz"


def test_a_fit_without_curves_has_no_band_of_the_model():
    fit = gn.fit_pickup(resistance="6.2k", inductance="2.4 H")
    guitar = gn.layouts.one_pickup(fit.pickup)
    band = gn.tolerances.bands_by_cause(guitar, {"pickup": fit}, count=20, frequency=[100, 3000])
    assert band.cause.values.tolist() == ["measurement", "other parts", "all"]
    assert "error of the model not known, no curve was fitted" in band.attrs["assumptions"]
    assert refused(gn.tolerances.bands_by_cause, guitar, {}) == (
        "fits: holds no pickup; give {'pickup': fit}."
    )
    assert refused(gn.tolerances.bands_by_cause, guitar, {"pickup": guitar}) == (
        "fits, pickup: a Harness is given; give what fit_pickup() returned, or a pickup of "
        "gn.catalogue."
    )


def test_the_figure_of_bands():
    one = gn.catalogue.entry(3)
    guitar = gn.layouts.one_pickup(one.pickup)
    band = gn.tolerances.bands_by_cause(
        guitar, {"pickup": one}, count=20, frequency=np.geomspace(50, 15e3, 20), volume=[10, 5]
    )
    above, below = gn.plots.plot_bands_by_cause(band.sel(volume=10))[:, 0]
    assert above.get_title(loc="left") == "Between 5 % and 95 % of the guitars"
    words = [text.get_text() for text in below.get_legend().get_texts()]
    assert words == ["measurement", "model", "other parts", "all"]
    half = (band.isel(quantile=-1) - band.isel(quantile=0)).sel(volume=10, cause="model") / 2
    assert np.allclose(below.lines[1].get_ydata(), half)
    assert refused(gn.plots.plot_bands_by_cause, band) == (
        "figure: the band varies over volume; choose one, as band.sel(volume=...)."
    )


# -- kinds ----------------------------------------------------------------------------------------


def test_priors_are_mean_and_spread_of_the_logarithms():
    """s sqrt(1 + 1/n) times the standard deviation of Student's distribution, v = n - 1.

    That is sqrt(v / (v - 2)): any textbook, from memory.
    """
    each = [one for one in EVERY if one.kind == "humbucker"]
    logs = np.log([one.values["inductance"].value for one in each])
    n = len(logs)
    likely = gn.catalogue.priors("humbucker")["inductance"]
    assert likely.around == pytest.approx(math.exp(logs.mean()), rel=1e-3)
    width = logs.std(ddof=1) * math.sqrt(1 + 1 / n) * math.sqrt((n - 1) / (n - 3))
    assert likely.within == pytest.approx(width, abs=6e-4)
    shares = [one.values["eddy_share"].value for one in each]
    odds = np.log([s / (1 - s) for s in shares])
    share = gn.catalogue.priors("humbucker")["eddy_share"].around
    assert math.log(share / (1 - share)) == pytest.approx(odds.mean(), rel=2e-3)
    assert gn.catalogue.priors("bass humbucker") == {}, "of one nothing can be said"
    assert "idle_coupling" in gn.catalogue.priors("one coil of a humbucker")


def test_a_fit_of_little_takes_the_prior_of_its_kind():
    """A peak alone: L C is known, and the prior decides how it is shared out."""
    peak = PeakReading("2.6 kHz", Load("200k", "470p"))
    likely = gn.catalogue.priors("humbucker")
    fit = gn.fit_pickup(resistance="13k", peak=peak, priors=likely)
    assert fit.values["inductance"].value == pytest.approx(6.2, abs=1.2)
    sure = {"inductance": Unknown("5 H", "1%")}
    fit = gn.fit_pickup(resistance="13k", peak=peak, priors=sure)
    assert fit.values["inductance"].value == pytest.approx(5, rel=0.02)
    given = {"resistance": "13k", "peak": peak}
    assert refused(gn.fit_pickup, **given, priors={"henry": Unknown(5)}).startswith(
        "priors: there is no value 'henry'; use one of between_capacitance, capacitance"
    )
    assert refused(gn.fit_pickup, **given, priors={"inductance": 5}) == (
        "priors, inductance: 5 is no Unknown; give Unknown(its likely value, within), as "
        "Unknown('4 H', 0.3)."
    )


def test_what_is_unlike_its_kind_is_said_when_asked():
    """The middle 80 % of many; of few all are told."""
    each = np.sort([one.values["inductance"].value for one in EVERY if one.kind == "humbucker"])
    low, high = np.exp(np.quantile(np.log(each), [0.1, 0.9]))
    assert gn.catalogue.compare_with_kind({"inductance": "16 H"}, "humbucker") == (
        f"16 H is high for a humbucker: of 12 that were measured the middle 80 % lie between "
        f"{low:.2g} H and {high:.2g} H.",
    )
    assert gn.catalogue.compare_with_kind({"inductance": "7 H"}, "humbucker") == ()
    (said,) = gn.catalogue.compare_with_kind({"inductance": "1 H"}, "single coil")
    assert re.fullmatch(
        r"1 H is low for a single coil: only 3 were measured, with 3\.\d H, 3\.\d H and 6\.\d H\.",
        said,
    )
    (said,) = gn.catalogue.compare_with_kind({"resistance": "30k"}, "bass pickup")
    assert said == (
        "A DC resistance of 30 kΩ is high for a bass pickup: the only one that was measured has "
        "15 kΩ."
    )
    pickup = gn.Pickup("2k", "7 H", "150p")
    (said,) = gn.catalogue.compare_with_kind(pickup, "one coil of a humbucker")[:1]
    assert said.startswith("A DC resistance of 2 kΩ is low for one coil of a humbucker: of 9")
    loose = gn.fit_pickup(
        inductance=gn.fitting.InductanceReading("13 H", within="20%"), resistance="15k"
    )
    assert gn.catalogue.compare_with_kind(loose, "humbucker") == (), "within its error"


def test_a_kind_is_drawn_from_those_that_were_measured():
    """Every draw lies near one of the twelve."""
    drawn = gn.catalogue.draw_kind("humbucker", "neck", 100, seed=2)
    ohms, henry = drawn["neck.resistance"].values, drawn["neck.inductance"].values
    each = [one for one in EVERY if one.kind == "humbucker"]
    near = np.zeros(100, dtype=int)
    for one in each:
        r, h = one.values["resistance"], one.values["inductance"]
        near += (abs(ohms - r.value) < 5 * r.error) & (abs(henry - h.value) < 5 * h.error)
    assert (near > 0).all()
    guitar = gn.layouts.two_humbuckers(gn.ready_pickup(5), gn.ready_pickup(7))
    h = gn.response(guitar, {**drawn, "switch": "neck"}, frequency=[100, 2000])
    assert h.sizes["sample"] == 100


# -- which is nearest -----------------------------------------------------------------------------


def test_the_distance_is_the_rms_of_the_logarithms():
    """Of two readings, by hand; the errors of both are stated beside."""
    one = gn.catalogue.entry(4)
    ohms, henry = (one.values[name] for name in ("resistance", "inductance"))
    found = gn.catalogue.nearest_pickups(resistance=1.1 * ohms.value, inductance="4.5 H", count=29)
    mine = next(near for near in found.pickups if near.pickup.number == 4)
    off = mine.differences["DCR"]
    assert off[0] == pytest.approx(-math.log(1.1), abs=1e-9)
    assert off[1] == pytest.approx(math.hypot(0.015, ohms.error / ohms.value), rel=0.35)
    assert mine.differences["L at 120 Hz"][0] == pytest.approx(
        math.log(henry.value / 4.5), abs=0.02
    )
    both = [difference for difference, _ in mine.differences.values()]
    assert mine.distance == pytest.approx(math.sqrt(np.mean(np.square(both))))
    distances = [near.distance for near in found.pickups]
    assert distances == sorted(distances)
    assert {near.pickup.number for near in found.pickups} == set(gn.catalogue.pickups)


def test_a_pickup_is_nearest_to_its_own_curves(sets):
    """With its recorded curve and with what a hand reads of it."""
    for number in (2, 27):
        one = gn.catalogue.entry(number)
        curve = measured(sets[one.measured_as], THIRD, TOLD)
        found = gn.catalogue.nearest_pickups(curves=curve, kind=one.kind, count=2)
        assert found.pickups[0].pickup.number == number
    peak = PeakReading("2.55 kHz", Load("200k", "470p"), height=0.9)
    found = gn.catalogue.nearest_pickups(resistance="9.6k", peak=peak, kind="humbucker")
    assert found.pickups[0].pickup.number == 6
    assert found.pickups[0].agrees


def test_what_cannot_be_told_apart_is_said():
    """Of equally near ones the lower number stands first."""
    one = gn.catalogue.entry(28).values["resistance"].value
    text = str(gn.catalogue.nearest_pickups(resistance=one, kind="one coil of a bass humbucker"))
    assert "By these readings 28, 29 are equally near, within the errors." in text
    assert "Distance: root mean square of the differences" in text
    frame = gn.catalogue.nearest_pickups(inductance="7 H", count=3).to_dataframe()
    assert list(frame.columns[:3]) == ["number", "name", "distance"]
    assert refused(gn.catalogue.nearest_pickups) == (
        "nearest_pickups: nothing is told of the pickup; give its resistance, inductance, a peak "
        "or a curve."
    )
    unknown = PeakReading("3 kHz", loads(TOLD)["load-large-capacitor"])
    assert refused(gn.catalogue.nearest_pickups, peak=unknown) == (
        "load capacitance: is unknown; give its value."
    )


# -- the table and the picture --------------------------------------------------------------------


def test_the_table_says_what_was_measured_and_what_not():
    text = str(gn.catalogue.table())
    for one in EVERY:
        assert one.name in text
    assert text.count(" s ") >= 6, "stated values are marked"
    assert "C includes the pickup's lead and the instrument's input" in text
    assert "CC0 1.0.\n18 more sets are left out" in text
    frame = gn.catalogue.table("single coil").to_dataframe()
    assert frame["name"].tolist() == [one.name for one in EVERY[:3]]
    assert frame["inductance_error"].gt(0).all()
    assert "hardly determined" in str(gn.catalogue.entry(9))
    assert "stated as 12.69 kΩ, and fitted" in str(gn.catalogue.entry(9))
    assert refused(gn.catalogue.table, "sitar") == (
        "kind: there is no 'sitar'; use one of bass humbucker, bass pickup, humbucker, humbucker "
        "in parallel, one coil of a bass humbucker, one coil of a humbucker, single coil."
    )


def test_the_peak_in_the_table_is_that_of_the_response(sets):
    """Against the highest maximum of the recorded, loaded curve, where it has one over 1 dB."""
    frame = gn.catalogue.table().to_dataframe().set_index("number")
    seen = 0
    for one in EVERY:
        hertz, level = binned(measured(sets[one.measured_as], THIRD, TOLD))
        inside = hertz > 700
        top = int(np.argmax(np.where(inside, level, -np.inf)))
        if level[top] - level[hertz < 250].mean() > 1.5:
            seen += 1
            # The recorded curve has the instrument across it besides, and a flat top.
            assert frame.loaded_peak_frequency[one.number] == pytest.approx(hertz[top], rel=0.1)
    assert seen >= 5


def test_peaks_in_a_guitar_of_ones_own():
    """Each is that of the guitar with the pickup in its place."""
    guitar = gn.layouts.one_pickup(gn.Pickup("6k", "2 H", "99p"), volume="500k", tone="500k")
    found = gn.catalogue.loaded_peaks(guitar, kind="one coil of a bass humbucker", count=2)
    for number in (28, 29):
        own = guitar.replace("pickup", gn.ready_pickup(number))
        expected = gn.peak(own)
        assert float(found.frequency.sel(number=number)) == pytest.approx(
            float(expected.frequency), nan_ok=True
        )
        assert float(found.bandwidth.sel(number=number)) == pytest.approx(float(gn.bandwidth(own)))
    ax = gn.plots.plot_catalogue(found)
    labels = [text.get_text() for text in ax.get_yticklabels()]
    assert labels == [f"{one.name}  {one.number}" for one in EVERY[-2:]]
    assert "One coil of a bass humbucker" in [text.get_text() for text in ax.texts]
    assert "volume 500 kΩ" in found.attrs["guitar"]
    assert "pickup" not in found.attrs["guitar"]
    two = gn.layouts.two_humbuckers(gn.ready_pickup(5), gn.ready_pickup(7))
    assert refused(gn.catalogue.loaded_peaks, two) == (
        "place: the guitar has neck, bridge; give one of them."
    )
    assert refused(gn.catalogue.loaded_peaks, guitar, volume=[10, 5]) == (
        "settings: sweep volume; give one value each."
    )
    assert refused(gn.plots.plot_catalogue, xr.Dataset()) == (
        "figure: shows peaks of the catalogue; give what gn.catalogue.loaded_peaks() returns."
    )


# -- by name, by number, in files and in the command ----------------------------------------------


def test_ready_pickup_is_a_look_up():
    assert gn.ready_pickup(9) is gn.ready_pickup("neck humbucker, 12.7k")
    assert gn.ready_pickup(9) == gn.catalogue.entry(9).pickup
    assert list(gn.ready_pickups) == [one.name for one in EVERY]
    assert refused(gn.ready_pickup, "neck humbucker") == (
        "catalogue: there is no pickup 'neck humbucker'; did you mean 'neck humbucker, 12.7k'?"
    )
    assert refused(gn.ready_pickup, 30) == "catalogue: there is no pickup 30; give 1 to 29."
    assert refused(gn.catalogue.entry, "theremin") == (
        "catalogue: there is no pickup 'theremin'; print(gn.catalogue.table()) lists them."
    )


def test_a_file_holds_the_values(tmp_path):
    """The name is where they come from, and no more."""
    guitar = gn.layouts.one_pickup(gn.ready_pickup(3))
    path = gn.save_harness(guitar, tmp_path / "wide.toml")
    text = path.read_text(encoding="utf-8")
    assert 'source = "catalogue 3: wide single coil, 10.6k; fitted to 3 measured curves' in text
    assert re.search(r'^resistance = "10\.6\d* kohm"$', text, re.MULTILINE)
    assert gn.load_harness(path) == guitar


def test_captions_say_that_a_pickup_was_measured():
    """And that a plain coil is lossless; where the loss is taken away, nothing was measured."""
    guitar = gn.layouts.one_pickup(gn.ready_pickup(3))
    said = gn.response(guitar, frequency=[100, 1000]).attrs["assumptions"]
    assert "measured pickup with its losses (catalogue 3)" in said
    bare = guitar.replace("pickup.eddy_resistance", None)
    assert "measured" not in gn.response(bare, frequency=[100, 1000]).attrs["assumptions"]
    coil = gn.Coil("4k", "2 H", "90p", eddy_resistance="20k", eddy_share=0.4)
    two = gn.Humbucker(coil, coil, source="catalogue 99: invented")
    said = gn.response(gn.layouts.one_pickup(two), frequency=[100, 1000]).attrs["assumptions"]
    assert said.startswith("measured pickup with its losses (catalogue 99)")
