"""Every picture on a page: letters of eight points and more where it is 170 mm wide."""

from __future__ import annotations

import matplotlib.pyplot as plt
import numpy as np
import pytest
from matplotlib.text import Text

import guitarnet as gn

PAGE = 170 / 25.4  # inches between the margins
COIL = gn.Pickup("6.2k", "2.4 H", "120p")
FEW = np.geomspace(50, 15e3, 40)


@pytest.fixture(scope="module")
def drawings(tmp_path_factory):
    """What draws each figure, by the function's name."""
    plots, guitar = gn.plots, gn.layouts.one_pickup(COIL)
    builds = {b or "no bleed": gn.layouts.one_pickup(COIL, treble_bleed=b) for b in (None, "1n")}
    h = gn.response(builds, volume=[10, 7, 5, 3], frequency=FEW)
    plain = h.sel(build="no bleed")
    level = -10 * np.log10((1 - (FEW / 5e3) ** 2) ** 2 + (FEW / 15e3) ** 2)
    many = gn.tolerances.spread(guitar, 5, seed=1)
    lengths = {"cable.length": ["1 m", "2 m"]}
    near = gn.choosing.Goal("peak frequency", near="5 kHz")
    return {
        "plot_response": lambda: gn.plot_response(plain),
        "plot_builds": lambda: plots.plot_builds(h),
        "plot_difference": lambda: plots.plot_difference(h, re={"volume": 10}),
        "plot_taper": lambda: plots.plot_taper(h, {"audio": gn.audio_taper(0.15)}),
        "plot_map": lambda: plots.plot_map(plain),
        "plot_turned_down": lambda: plots.plot_turned_down(h, 5),
        "plot_impedance": lambda: plots.plot_impedance(gn.impedance(guitar, frequency=FEW)),
        "plot_fit": lambda: plots.plot_fit(
            gn.fit_pickup(gn.fitting.MeasuredCurve(FEW[::4], level[::4], load=gn.fitting.Load()))
        ),
        "plot_front": lambda: plots.plot_front(gn.choose_treble_bleed(guitar, series="E3")),
        "plot_choices": lambda: plots.plot_choices(gn.choosing.choose(guitar, lengths, near)),
        "plot_match": lambda: plots.plot_match(
            gn.choosing.match_response(
                guitar, guitar.replace("cable.length", "1 m"), loads=["capacitor"]
            )
        ),
        "plot_bands": lambda: plots.plot_bands(gn.response(guitar, frequency=FEW, **many)),
        "plot_sensitivity": lambda: plots.plot_sensitivity(
            gn.tolerances.sensitivity(guitar, volume=5, frequency=FEW)
        ),
        "plot_ranking": lambda: plots.plot_ranking(
            gn.tolerances.sensitivity_ranking(guitar, frequency=["1 kHz"], volume=5)
        ),
        "plot_history": lambda: plots.plot_history(
            _history(tmp_path_factory.mktemp("record")), limits=("7k", "7.3k")
        ),
        "plot_catalogue": lambda: plots.plot_catalogue(gn.catalogue.loaded_peaks(guitar)),
        "plot_bands_by_cause": lambda: plots.plot_bands_by_cause(
            gn.tolerances.bands_by_cause(
                gn.layouts.one_pickup(gn.ready_pickup(1)),
                {"pickup": gn.catalogue.entry(1)},
                count=20,
                frequency=FEW,
            )
        ),
        "plot_string_spectrum": lambda: plots.plot_string_spectrum(
            gn.strings.string_spectrum("162 mm", harmonics=12)
        ),
    }


def _history(folder):
    """Two pickups of one sort."""
    with gn.records.Record(folder / "bench.record", begin=True) as record:
        for name, day in (("N-12", "2026-11-02"), ("N-13", "2026-12-01")):
            record.add(name, "pickup", sort="single coil")
            record.write(name, readings="7.15k", date=day)
        return gn.records.history(record, "single coil")


@pytest.mark.long
def test_the_smallest_letters_of_every_figure_on_a_page(drawings):
    """Sizes as set, times how much the figure shrinks on the page; no function is left out."""
    there = {name for room in (gn, gn.plots) for name in room.__all__ if name.startswith("plot_")}
    assert set(drawings) == there - {"plot_measured"}, "plot_measured draws over a given figure"
    smallest = {}
    for name, draw in drawings.items():
        figure = np.ravel(np.asarray(draw()))[0].figure
        shrunk = min(1.0, PAGE / figure.get_figwidth())
        texts = [text for text in figure.findobj(Text) if text.get_text().strip()]
        smallest[name] = shrunk * min(text.get_fontsize() for text in texts)
        plt.close(figure)
    assert {name: size for name, size in smallest.items() if size < 8} == {}
