"""Every pickup x every network x preferred values x tapers x cables x marks, as measures.

    python examples/big_sweep.py                      # some 1.3 million responses
    python examples/big_sweep.py --series E24         # 352 million, if there is time

Every measured pickup of the catalogue, in the same guitar with every form of treble bleed, is swept
over preferred values, tapers, cables and volume marks. Of each design two numbers are kept: how far
its shape strays from that at volume 10 over the travel, and where it peaks at volume 10. The
responses themselves are never held: each chunk is computed, reduced and let go.

What is done is kept in the folder of results. A run that is interrupted goes on where it stopped
when the same command is given again. With ``--workers N`` it runs on a local cluster of N
processes; on a cluster of machines, make a `distributed.Client` of yours first.

A note on 10^12 responses. At 64 frequencies they are 6.4 x 10^13 points. At 20 million points a
second on a core that is 3.2 x 10^6 core-seconds, or 37 core-days: a day on 37 cores. What bounds
such a sweep is what it leaves. With eleven marks reduced to three numbers, that is
10^12 / 11 x 3 x 8 bytes = 2.2 TB before compression, so reduce further within each chunk: the
least of each pickup and cable, or quantiles. At 2 million points a chunk there are 3 x 10^7 chunks.
At a millisecond each, which is what dask says it needs for a task, handing them out alone takes
8 hours; and that many files are more than a file system likes. So cut the sweep into parts of some
10^5 chunks (one pickup and one cable each), or make the chunks longer by hand. And ask first
whether a search over the same values would not do.

The guitar is invented; its pickups were measured.
"""

from __future__ import annotations

import argparse
import contextlib
import math
import sys
import time
from collections.abc import Iterator
from pathlib import Path

import numpy as np
import xarray as xr

import guitarnet as gn

HERTZ = np.geomspace(50, 15e3, 64)
MARKS = np.arange(11.0)
TAPERS = ["linear", "audio 10%", "audio 15%"]
CABLES = ["1 m", "3 m", "6 m"]
FORMS = {
    # A network of each form, and the settings of its capacitor and its resistors.
    "none": (None, ()),
    "capacitor": ("1n", ("capacitance",)),
    "parallel": ("1n || 150k", ("capacitance", "resistance")),
    "series": ("1n + 150k", ("capacitance", "resistance")),
    "series with parallel": (
        "100k + (1n || 150k)",
        ("capacitance", "resistor.resistance", "network.resistor.resistance"),
    ),
}


def strays(h: xr.DataArray) -> xr.DataArray:
    """Largest change of shape re volume 10 over marks 2 to 9, 200 Hz-5 kHz [dB]."""
    worst: xr.DataArray = abs(gn.treble_change(h).worst)
    return worst.sel(volume=slice(2, 9)).max("volume").assign_attrs(units="dB")


def peak_at_10(h: xr.DataArray) -> xr.Dataset:
    """Peak with the knob full up."""
    top = gn.peak(h.sel(volume=10, drop=True))
    return top[["frequency", "height"]]


def plans(series: str, pickups: list[str]) -> dict[str, gn.sweeps.SweepPlan]:
    """One plan for each form of network: each has values of its own to sweep."""
    values = {
        "capacitance": gn.values.preferred_values(series, "100p", "10n"),
        "resistance": gn.values.preferred_values(series, "10k", "1M"),
    }
    found = {}
    for form, (written, paths) in FORMS.items():
        guitar = gn.layouts.one_pickup(gn.ready_pickup(pickups[0]), treble_bleed=written)
        swept = {f"treble_bleed.{path}": values[path.rpartition(".")[2]] for path in paths}
        found[form] = gn.sweeps.plan_sweep(
            {name: guitar.replace("pickup", gn.ready_pickup(name)) for name in pickups},
            {"strays": strays, "peak": peak_at_10},
            {
                "volume.taper": [gn.taper(words) for words in TAPERS],
                **swept,
                "cable.length": CABLES,
                "volume": MARKS,
            },
            frequency=HERTZ,
            dim="pickup_name",
        )
    return found


def main(arguments: list[str] | None = None) -> int:
    """Run the sweep; returns the exit code."""
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("--series", default="E3", help="preferred values: E3, E6, E12, E24")
    parser.add_argument("--pickups", type=int, default=len(gn.ready_pickups), help="how many")
    parser.add_argument("--workers", type=int, default=0, help="processes of a local cluster")
    parser.add_argument("--out", default="big_sweep", help="folder of the results")
    options = parser.parse_args(arguments)
    pickups = list(gn.ready_pickups)[: options.pickups]
    try:
        chosen = plans(options.series, pickups)
        say_estimate("the whole, every pickup with E24", plans("E24", list(gn.ready_pickups)))
        with cluster(options.workers):
            run(chosen, Path(options.out, options.series))
    except gn.GuitarnetError as error:
        print(f"error: {error}", file=sys.stderr)
        return 2
    return 0


def run(chosen: dict[str, gn.sweeps.SweepPlan], folder: Path) -> None:
    """Run every plan and print what is found."""
    began = time.perf_counter()
    found = {}
    for form, plan in chosen.items():
        print(f"{form}: {plan}")
        store = folder / f"{form.replace(' ', '_')}.zarr"
        found[form] = plan.to_zarr(store, progress=sys.stderr.isatty())
    count = sum(plan.responses for plan in chosen.values())
    print(f"\n{count:,} responses in {time.perf_counter() - began:.1f} s, in {folder}\n")
    print(least(found))


def least(found: dict[str, xr.Dataset]) -> gn.Table:
    """The values of each form that stray least, for every pickup."""
    rows = []
    place = {"volume.taper": "audio 10%", "cable.length": 3.0}
    here = {form: one.sel(place).load() for form, one in found.items()}
    for name in here["none"].pickup_name.values:
        top = float(here["none"].peak_frequency.sel(pickup_name=name))
        cells = [str(name), "none" if np.isnan(top) else f"{top:.0f}"]
        for one in here.values():
            own = one.strays.sel(pickup_name=name)
            best = own.isel(own.argmin(...))
            values = [
                gn.values.format_value(float(best[dim]), "F" if "capacitance" in dim else "ohm")
                for dim in own.dims
            ]
            cells.append(f"{float(best):.1f}  {', '.join(values)}".strip())
        rows.append(tuple(cells))
    title = (
        "How far the shape strays from that at volume 10 over marks 2 to 9 [dB], and the values\n"
        "that make it least (3 m cable, audio 10 %; peak at volume 10 without a network)"
    )
    return gn.Table(("pickup", "peak [Hz]", *found), rows, title=title)


def say_estimate(what: str, chosen: dict[str, gn.sweeps.SweepPlan]) -> None:
    """Time a part of the largest plan and print what all would take."""
    largest = max(chosen.values(), key=lambda plan: plan.responses)
    told = largest.estimate()
    count = sum(plan.responses for plan in chosen.values())
    chunks = sum(plan.chunk_count for plan in chosen.values())
    size = told["bytes"] * count / largest.responses
    rate = told["points_per_second"]
    seconds = count * HERTZ.size / rate
    days = 1e12 * HERTZ.size / rate / 86400
    print(
        f"{what}: {count:,} responses in {chunks:,} chunks. One core of this machine needs about "
        f"{seconds / 60:,.0f} minutes ({rate / 1e6:.0f} million points a second), "
        f"{told['chunk_bytes'] / 1e6:,.0f} MB at work and {size / 1e9:.2g} GB for "
        f"the measures; held at once the responses would be {16 * count * HERTZ.size / 1e9:,.0f} "
        f"GB. 10^12 responses: about {math.ceil(days)} core-days.\n"
    )


@contextlib.contextmanager
def cluster(workers: int) -> Iterator[object]:
    """A local cluster, if one is asked for."""
    if not workers:
        yield None
        return
    from distributed import Client, LocalCluster

    with (
        LocalCluster(n_workers=workers, threads_per_worker=1, dashboard_address=":0") as made,
        Client(made) as client,
    ):
        yield client


if __name__ == "__main__":
    sys.exit(main())
