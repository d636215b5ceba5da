"""What a large sweep asks: measures of responses, of all of them or of a part."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from typing import Any, NamedTuple

import numpy as np
import xarray as xr

from ...circuit.harness import Harness
from ...circuit.settings import resolve, variants
from ...errors import BadSetting, a, asked
from ...identity import ByValue, digest, identity
from .response import response
from .sweep import assumed_by, read_builds

__all__ = ["A_MEASURE", "Measure", "Measured", "Question", "Trial", "Where"]

Measure = Callable[[xr.DataArray], "xr.DataArray | xr.Dataset"]
Measured = dict[str, xr.DataArray]
Where = Mapping[str, slice]

A_MEASURE = "give a function of a response, such as gn.peak"
_TOLD = 20  # guitars whose identity is kept value by value


@dataclass(frozen=True, eq=False)
class Question(ByValue):
    """What is asked: measures of the responses of some guitars over some settings."""

    guitar: Harness | Mapping[str, Harness]
    measures: Mapping[str, Measure]
    settings: Mapping[str, Any]
    frequency: np.ndarray
    at: str
    reference_frequency: float | str
    source: str
    dim: str

    def __dask_tokenize__(self) -> str:
        return identity(self)

    @property
    def guitars(self) -> dict[str, Harness]:
        """Guitars by label; one guitar alone has an empty label."""
        return read_builds(self.guitar, self.dim, self.settings)

    def part(self, where: Where) -> Question:
        """Ask the same of some places only, along the dimensions that are named."""
        guitar = self.guitar
        if isinstance(guitar, Mapping) and self.dim in where:
            guitar = {label: guitar[label] for label in list(guitar)[where[self.dim]]}
        settings = dict(self.settings)
        for name, given in settings.items():
            if isinstance(given, (xr.DataArray, xr.Variable)):
                settings[name] = given.isel({d: where[str(d)] for d in given.dims if d in where})
            elif name in where:
                settings[name] = given[where[name]]
        return replace(self, guitar=guitar, settings=settings)

    def response(self, *, sizes: bool = False) -> xr.DataArray:
        """Compute every response, or the sizes alone; chunked settings are taken into memory."""
        loaded = {
            name: given.compute(scheduler="synchronous")
            if isinstance(given, (xr.DataArray, xr.Variable)) and given.chunks is not None
            else given
            for name, given in self.settings.items()
        }
        return response(
            self.guitar,
            loaded,
            frequency=self.frequency,
            at=self.at,
            reference_frequency=self.reference_frequency,
            source=self.source,
            sizes=sizes,
            dim=self.dim,
        )

    def reduced(self, h: xr.DataArray) -> Measured:
        """Reduce responses to the measures, each with the dimensions of the sweep first."""
        found: Measured = {}
        for name, measure in self.measures.items():
            result = asked(measure, f"measure {name!r}", A_MEASURE, h)
            if isinstance(result, xr.Dataset):
                found |= {f"{name}_{key}": result[key] for key in map(str, result.data_vars)}
            elif isinstance(result, xr.DataArray):
                found[name] = result
            else:
                problem = f"gives {a(type(result))}, no labelled array"
                raise BadSetting(f"measure {name!r}", problem, A_MEASURE)
        swept = h.dims[:-1]
        return {n: v.transpose(*swept, ..., missing_dims="ignore") for n, v in found.items()}

    def answer(self, *, sizes: bool = False) -> Measured:
        """Compute the measures."""
        return self.reduced(self.response(sizes=sizes))

    def assumptions(self) -> str:
        """Say what is assumed, trying each choice of every category by itself."""
        said = []
        for guitar in self.guitars.values():
            labels, harnesses, rest = variants(guitar, self.settings)
            first = next(iter(harnesses))[1]
            tried = [first]
            for name in labels:
                tried += [first.replace(name, option) for option in list(self.settings[name])[1:]]
            said += [harness.assumptions(resolve(harness, rest).values) for harness in tried]
        return assumed_by(said)

    def identity(self) -> dict[str, Any]:
        """Tell what each piece is, by its name in words; a guitar value by value."""
        pieces: dict[str, Any] = {
            "frequency": self.frequency,
            "at": self.at,
            "reference_frequency": self.reference_frequency,
            "source": self.source,
            "order of guitars": list(self.guitars),
        }
        pieces |= {f"setting {name!r}": given for name, given in self.settings.items()}
        pieces |= {f"measure {name!r}": measure for name, measure in self.measures.items()}
        told = {name: digest(piece) for name, piece in pieces.items()}
        few = len(self.guitars) <= _TOLD
        return told | {
            f"guitar {label!r}" if label else "guitar": guitar.described()
            if few
            else digest(guitar.described())
            for label, guitar in self.guitars.items()
        }


class Trial(NamedTuple):
    """What a few places of a sweep tell about the whole."""

    found: Measured
    sizes: bool  # whether the sizes of the responses suffice
