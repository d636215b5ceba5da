"""A sound card, an adapter and a pickup or guitar, simulated in the time domain.

This is the other side of `guitarnet.measuring`: it turns the samples of a stimulus into the
recordings that a person would make, and knows nothing of how they are read. Whatever is measured
is a closed formula here, written apart from the library's solver. The ranges in `RANGES` were
written down before anything that reads a recording; they are choices, not measurements of sound
cards.

The way of the signal: file, output (droop of its filter, high-pass, second and third harmonic,
source impedance), resistor with stray capacitance, plug with lead, the thing measured; each of two
inputs (its resistance and capacitance, gain, high-pass, droop, skew, crosstalk, noise), hum with
its harmonics, clipping, rounding to 16 or 24 bits. The output and the inputs may have clocks of
their own. Between recordings gain and capacitance drift.

Draws are made by seed. `DEVELOPMENT` seeds may be looked at while the reader is written;
`HELD_BACK` ones are for the last run.
"""

from __future__ import annotations

import dataclasses
import functools
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any, NamedTuple

import numpy as np

DEVELOPMENT = range(0, 1000)
HELD_BACK = range(100_000, 101_000)
FRESH = range(200_000, 201_000)  # after the held-back half had been looked at

RANGES: dict[str, tuple[Any, ...]] = {
    # Values between two ends, drawn evenly, or evenly in their logarithm where both are above
    # zero and "log" stands first; else one of the values.
    "resistor": ("log", 47e3, 100e3),  # ohm
    "known": ("log", 4.7e3, 47e3),  # ohm
    "source": ("log", 30.0, 600.0),  # ohm, of the output
    "input_resistance": ("log", 500e3, 10e6),  # ohm, both inputs
    "input_capacitance": ("log", 40e-12, 400e-12),  # F, with the adapter's wires
    "stray": ("log", 0.2e-12, 1.5e-12),  # F, across the resistor
    "lead_resistance": ("log", 0.02, 0.3),  # ohm
    "lead_inductance": ("log", 0.2e-6, 2e-6),  # H
    "open_stray": ("log", 0.05e-12, 0.3e-12),  # F, of an open plug against the thing's own
    "output_droop": ("log", 35e3, 120e3),  # Hz, one pole
    "output_high_pass": ("log", 0.3, 6.0),  # Hz
    "input_droop": ("log", 35e3, 120e3),  # Hz, one pole, each input its own
    "input_high_pass": ("log", 0.3, 6.0),  # Hz, each input its own
    "gain": ("flat", -2.0, 2.0),  # dB, of each input around one that peaks near -8 dBFS
    "skew": ("flat", -0.25, 0.25),  # samples between the two inputs
    "crosstalk": ("flat", -110.0, -75.0),  # dB, each way
    "second": ("flat", -110.0, -80.0),  # dB below a full tone, of the output and of each input
    "third": ("flat", -110.0, -80.0),
    "noise": ("flat", -110.0, -92.0),  # dBFS over the whole band, each input
    "latency": ("flat", 0.05, 1.2),  # s
    # Parts in a million, output against inputs: mostly one device has one clock for both.
    "clock": ("flat", -100.0, 100.0),
    "one_clock": (True, True, False),
    "mains": (50.0, 60.0),  # Hz
    "mains_off": ("flat", -0.003, 0.003),  # share
    "hum_harmonics": ("flat", 6.0, 14.0),  # dB that the third harmonic lies below the first
    "hum_wander": ("flat", 0.0, 0.05),  # share by which hum swells within seconds
    "hum_open": ("flat", -20.0, 0.0),  # dB of hum with the plug open, below that with the thing
    "bits": (16, 24),
    "rate": (44_100, 48_000, 96_000),  # Hz
    # Only where drift and the known resistor are part of it:
    "drift": ("log", 0.002, 0.008),  # dB, one standard deviation of a recording's gain
    "lead_drift": ("log", 0.05e-12, 0.3e-12),  # F, one standard deviation of a recording
    "known_limits": ("log", 0.001, 0.01),  # share; the resistor lies evenly between them
}

MISTAKES = (
    "hum too strong",
    "clipping",
    "no output",
    "nothing plugged in",
    "channels swapped",
    "channels alike",
    "crackling contact",
    "samples lost",
    "another sample rate",
    "calibrations exchanged",
    "stale calibration",
    "shorted jack",
)

# How large each mistake is. Those not here have no size.
MISTAKE_RANGES = {
    "hum too strong": ("flat", -10.0, -3.0),  # dBFS
    "clipping": ("flat", 1.0, 6.0),  # dB that the peak would stand above full scale
    "no output": ("flat", -200.0, -70.0),  # dB that the output lies below what it should
    "crackling contact": ("log", 0.02, 0.3),  # share of the time that the contact is open
    "samples lost": ("log", 16, 4096),  # samples, at one place of the recording
    "stale gain": ("flat", 0.3, 3.0),  # dB, up or down, of the tip's input
    "stale lead": ("log", 30e-12, 300e-12),  # F more at the plug
    "shorted jack": ("log", 0.05, 5.0),  # ohm
}
_POINTS = 8192  # of one turn of hum


def drawn(spec: tuple[Any, ...], rng: np.random.Generator) -> Any:
    """Draw one value of a range."""
    if spec[0] == "log":
        return float(np.exp(rng.uniform(np.log(spec[1]), np.log(spec[2]))))
    if spec[0] == "flat":
        return float(rng.uniform(spec[1], spec[2]))
    return spec[int(rng.integers(len(spec)))]


# -- what is measured -------------------------------------------------------------------------


class Thing(NamedTuple):
    """Something with two terminals: its impedance [ohm] at frequencies [Hz]."""

    name: str
    impedance: Callable[[np.ndarray], np.ndarray]
    inductance: float = np.nan
    capacitance: float = np.nan


def coil(resistance: float, inductance: float, capacitance: float, eddy: float = 0.0) -> Thing:
    """Make a pickup: R, L with a part of it bridged by an eddy resistance, C across all."""

    def impedance(f: np.ndarray) -> np.ndarray:
        s = 2j * np.pi * f
        own = s * inductance
        if eddy:
            share = 0.3
            own = s * inductance * (1 - share) + 1 / (1 / (s * inductance * share) + 1 / eddy)
        return 1 / (1 / (resistance + own) + s * capacitance)

    return Thing("pickup", impedance, inductance, capacitance)


def resistor(ohm: float, capacitance: float = 0.0) -> Thing:
    """Make a resistor with a capacitance across."""
    return Thing("resistor", lambda f: 1 / (1 / ohm + 2j * np.pi * f * capacitance))


def guitar(pickup: Thing, volume: float, fraction: float, tone: float, capacitor: float) -> Thing:
    """Look into the jack of a guitar: tone network at the pickup, volume at a fraction."""

    def impedance(f: np.ndarray) -> np.ndarray:
        s = 2j * np.pi * f
        source = 1 / (1 / pickup.impedance(f) + 1 / (tone + 1 / (s * capacitor)))
        if fraction >= 1:
            return 1 / (1 / source + 1 / volume)
        return 1 / (1 / (source + volume * (1 - fraction)) + 1 / (volume * fraction))

    return Thing("guitar", impedance)


def any_pickup(rng: np.random.Generator) -> Thing:
    """Draw a pickup as they occur: 2 to 8 H."""
    inductance = drawn(("log", 2.0, 8.0), rng)
    resistance = 2.4e3 * inductance ** drawn(("flat", 0.7, 1.1), rng)
    capacitance = drawn(("log", 80e-12, 200e-12), rng)
    return coil(resistance, inductance, capacitance, drawn(("log", 300e3, 3e6), rng))


def any_guitar(rng: np.random.Generator) -> Thing:
    """Draw a guitar with its volume at 10 or lower."""
    pot = 250e3 if rng.random() < 0.5 else 500e3
    fraction = 1.0 if rng.random() < 0.5 else drawn(("log", 0.05, 0.9), rng)
    tone = pot * (1.0 if rng.random() < 0.7 else drawn(("log", 0.01, 0.9), rng))
    capacitor = drawn((10e-9, 22e-9, 47e-9), rng)
    return guitar(any_pickup(rng), pot * drawn(("flat", 0.9, 1.1), rng), fraction, tone, capacitor)


# -- the chain ---------------------------------------------------------------------------------


@dataclass(frozen=True)
class Chain:
    """One sound card with its adapter; `draw_chain` draws one by seed."""

    resistor: float
    known: float
    source: float
    input_resistance: tuple[float, float]
    input_capacitance: tuple[float, float]
    stray: float
    lead_resistance: float
    lead_inductance: float
    open_stray: float
    output_droop: float
    output_high_pass: float
    input_droop: tuple[float, float]
    input_high_pass: tuple[float, float]
    gain: tuple[float, float]
    skew: float
    crosstalk: tuple[float, float]
    second: tuple[float, float, float]
    third: tuple[float, float, float]
    noise: tuple[float, float]
    clock: float
    mains: float
    hum_harmonics: float
    hum_wander: float
    hum_open: float
    bits: int
    rate: int
    hum: float = -40.0  # dBFS, at the tip with the thing plugged in
    drift: float = 0.0
    lead_drift: float = 0.0
    known_limits: float = 0.0
    known_off: float = 0.0

    @property
    def known_ohm(self) -> float:
        """What the known resistor really has."""
        return self.known * (1 + self.known_off)


_TWICE = ("input_resistance", "input_capacitance", "input_droop", "input_high_pass", "gain")
_TWICE += ("crosstalk", "noise")


def draw_chain(rng: np.random.Generator, *, drifting: bool = False, **fixed: Any) -> Chain:
    """Draw a chain; what is given by name is as given."""
    values: dict[str, Any] = {}
    for field in dataclasses.fields(Chain):
        name = field.name
        if name in ("hum", "known_off") or (
            name in ("drift", "lead_drift", "known_limits") and not drifting
        ):
            continue
        spec = RANGES[name]
        if name in _TWICE:
            values[name] = (drawn(spec, rng), drawn(spec, rng))
        elif name in ("second", "third"):
            values[name] = tuple(drawn(spec, rng) for _ in range(3))
        else:
            values[name] = drawn(spec, rng)
    if drawn(RANGES["one_clock"], rng):
        values["clock"] = 0.0
    values["mains"] *= 1 + drawn(RANGES["mains_off"], rng)
    values["known_off"] = values.get("known_limits", 0.0) * rng.uniform(-1, 1)
    return Chain(**{**values, **fixed})


@dataclass
class State:
    """What differs from one recording to the next."""

    gain: float = 0.0  # dB, of the tip's input
    lead: float = 0.0  # F, at the plug


def drift_on(state: State, chain: Chain, rng: np.random.Generator) -> State:
    """Draw the state of the next recording."""
    return State(
        state.gain + chain.drift * rng.standard_normal(),
        state.lead + chain.lead_drift * rng.standard_normal(),
    )


def record(
    stimulus: np.ndarray,
    chain: Chain,
    thing: Thing | None,
    rng: np.random.Generator,
    *,
    state: State | None = None,
    level: float = 0.0,
    short: float | None = None,
    hum: float | None = None,
    open_share: float = 0.0,
    coupled: Callable[[np.ndarray], np.ndarray] | None = None,
) -> np.ndarray:
    """Record reference and tip, as two rows of samples of full scale 1.

    ``thing`` None is an open plug; ``short`` a resistance [ohm] across it. ``level`` moves the
    gain of both inputs [dB]. ``open_share`` is the share of time that a contact is open.
    ``coupled`` gives the voltage induced in the thing by an exciter coil [V/V]; the resistor then
    leads to that coil and the tip to the thing alone.
    """
    state = state or State()
    before = int(drawn(RANGES["latency"], rng) * chain.rate)
    count = _even(before + stimulus.size + int(0.4 * chain.rate))
    played = np.zeros(count)
    played[before : before + stimulus.size] = stimulus
    played = _bent(played, chain.second[0], chain.third[0])
    f = np.fft.rfftfreq(count, 1 / chain.rate)
    f[0] = f[1] * 1e-3
    s = 2j * np.pi * f
    out = np.fft.rfft(played) * np.sinc(f / chain.rate) / (1 + 1j * f / chain.output_droop)
    out *= (1j * f / chain.output_high_pass) / (1 + 1j * f / chain.output_high_pass)
    at_reference, at_tip, at_hum = _divider(f, chain, thing, state, short, coupled)
    if short is None and thing is None:
        hum_level = (chain.hum if hum is None else hum) + chain.hum_open
    else:
        hum_level = (chain.hum if hum is None else hum) - (60.0 if short is not None else 0.0)
    analogue = [at_reference * out, at_tip * out]
    mixed = [
        analogue[0] + 10 ** (chain.crosstalk[0] / 20) * analogue[1],
        analogue[1] + 10 ** (chain.crosstalk[1] / 20) * analogue[0],
    ]
    dial = 10 ** (np.array(chain.gain) / 20 + level / 20)
    dial[1] *= 10 ** (state.gain / 20)
    inputs = []
    for i in range(2):
        passed = dial[i] / (1 + 1j * f / chain.input_droop[i])
        passed = passed * (1j * f / chain.input_high_pass[i])
        passed /= 1 + 1j * f / chain.input_high_pass[i]
        if i:
            passed = passed * np.exp(s * chain.skew / chain.rate)
        inputs.append(mixed[i] * passed)
    signals = sampled(inputs, count, chain.clock * 1e-6)
    if open_share:
        _, loose, _ = _divider(f, chain, None, state, None, coupled)
        apart = np.fft.irfft(inputs[1] * loose / at_tip, count)
        signals[1] = np.where(_crackle(count, chain.rate, open_share, rng), apart, signals[1])
    humming = _hum(count, chain, hum_level, at_hum, rng)
    signals[1] = signals[1] + humming
    signals[0] = signals[0] + humming * 1e-3
    return np.stack([_converted(signals[i], chain, i, rng) for i in range(2)])


def _even(count: int) -> int:
    """Round up to a count that a Fourier transform is fast with."""
    step = 2 ** max(0, int(np.log2(count)) - 6)
    return -(-count // step) * step


def _divider(
    f: np.ndarray,
    chain: Chain,
    thing: Thing | None,
    state: State,
    short: float | None,
    coupled: Callable[[np.ndarray], np.ndarray] | None,
) -> tuple[np.ndarray, np.ndarray, np.ndarray | None]:
    """Voltages at reference and tip for 1 V of the output, and hum at the tip for 1 V in the thing.

    Solved node by node: the output behind its source impedance, the resistor, the plug.
    """
    s = 2j * np.pi * f
    inputs = [
        1 / r + s * c for r, c in zip(chain.input_resistance, chain.input_capacitance, strict=True)
    ]
    lead = chain.lead_resistance + s * chain.lead_inductance
    plug = s * state.lead
    if short is not None:
        plug = plug + 1 / short
    elif thing is None:
        plug = plug + s * chain.open_stray
    else:
        plug = plug + 1 / thing.impedance(f)
    beyond = 1 / (lead + 1 / np.where(plug == 0, 1e-18, plug))
    series = 1 / chain.resistor + s * chain.stray
    if coupled is not None:
        assert thing is not None
        reference = 1 / (1 + chain.source * (inputs[0] + series))
        tip = reference * coupled(f) / (1 + thing.impedance(f) * (inputs[1] + s * state.lead))
        return reference, tip, None
    at_tip = inputs[1] + beyond
    ahead = 1 / (1 / series + 1 / at_tip)
    reference = 1 / (1 + chain.source * (inputs[0] + ahead))
    tip = reference * series / (series + at_tip)
    return reference, tip, beyond / (series + at_tip) if thing is not None else None


def _bent(signal: np.ndarray, second: float, third: float) -> np.ndarray:
    """Add harmonics as a curved characteristic does."""
    a, b = 2 * 10 ** (second / 20), 4 * 10 ** (third / 20)
    return signal + a * signal**2 - b * signal**3


def sampled(spectra: list[np.ndarray], count: int, off: float) -> list[np.ndarray]:
    """Sample spectra with a clock that is off by a share: exactly, by Bluestein's transform."""
    if not off:
        return [np.fft.irfft(spectrum, count) for spectrum in spectra]
    chirp, kernel = _bluestein(count, spectra[0].size, off)
    weights = np.full(spectra[0].size, 2.0)
    weights[0] = 1.0
    if count % 2 == 0:
        weights[-1] = 1.0
    found = []
    for spectrum in spectra:
        first = np.fft.fft(spectrum * weights * chirp[: spectrum.size], kernel.size)
        found.append((np.fft.ifft(first * kernel)[:count] * chirp).real / count)
    return found


@functools.lru_cache(maxsize=2)
def _bluestein(count: int, bins: int, off: float) -> tuple[np.ndarray, np.ndarray]:
    """Give exp(pi i n^2 (1 + off) / count), and the transform of its inverse on both sides of 0.

    From n k = (n^2 + k^2 - (n - k)^2) / 2; whole turns of the squares are taken out as whole
    numbers.
    """
    n = np.arange(count, dtype=np.int64)
    turns = (n * n % (2 * count)) / (2 * count) + off * (n.astype(float) ** 2) / (2 * count)
    chirp = np.exp(2j * np.pi * turns)
    size = _even(count + bins)
    kernel = np.zeros(size, complex)
    kernel[:count] = np.conj(chirp)
    kernel[size - bins + 1 :] = np.conj(chirp[1:bins])[::-1]
    return chirp, np.fft.fft(kernel)


def _crackle(count: int, rate: int, share: float, rng: np.random.Generator) -> np.ndarray:
    """Say when a contact is open: bursts of 0.2 to 20 ms until a share of the time is reached."""
    bad = np.zeros(count, bool)
    while bad.mean() < share:
        start = int(rng.integers(count))
        bad[start : start + int(rate * drawn(("log", 0.2e-3, 20e-3), rng))] = True
    return bad


def _hum(
    count: int, chain: Chain, level: float, at_tip: np.ndarray | None, rng: np.random.Generator
) -> np.ndarray:
    """Make hum of an rms level [dBFS] with harmonics to 2 kHz, swelling slowly."""
    t = np.arange(count) / chain.rate
    turn = np.arange(_POINTS + 1) / _POINTS
    wave = np.zeros(_POINTS + 1)
    for n in range(1, int(2000 / chain.mains) + 1):
        below = chain.hum_harmonics * np.log2(n) / np.log2(3) + (0 if n % 2 else 8.0)
        below += rng.uniform(-3, 3) if n > 1 else 0.0
        size = 10 ** (-below / 20)
        if at_tip is not None:
            size *= abs(at_tip[round(n * chain.mains * count / chain.rate)])
        wave += size * np.sin(2 * np.pi * (n * turn + rng.random()))
    total = np.interp((chain.mains * t + rng.random()) % 1, turn, wave)
    total *= 1 + chain.hum_wander * np.sin(2 * np.pi * (rng.uniform(0.1, 1) * t + rng.random()))
    return total * (10 ** (level / 20) / np.sqrt(np.mean(total**2)))


def _converted(signal: np.ndarray, chain: Chain, i: int, rng: np.random.Generator) -> np.ndarray:
    """Bend, add noise, clip and round as an input does."""
    signal = _bent(signal, chain.second[1 + i], chain.third[1 + i])
    signal = signal + 10 ** (chain.noise[i] / 20) * rng.standard_normal(signal.size)
    steps = 2.0 ** (chain.bits - 1)
    return np.clip(np.round(signal * steps), -steps, steps - 1) / steps


# -- a whole session -----------------------------------------------------------------------------

SHORT = 0.01  # ohm, across the plug


@dataclass
class Session:
    """Recordings by what was plugged in, as two rows each, and what was true."""

    chain: Chain
    thing: Thing
    recordings: dict[str, np.ndarray]
    rates: dict[str, int]


def session(
    stimulus: np.ndarray,
    chain: Chain,
    thing: Thing,
    seed: int,
    *,
    mistake: str | None = None,
    taken: dict[tuple[Any, ...], np.ndarray] | None = None,
) -> Session:
    """Record open, short, known resistor, the thing, and open again, with a mistake or none.

    Each recording has a seed of its own, so that a mistake leaves the others alone; ``taken``
    keeps those that were made.
    """
    rng = np.random.default_rng([seed, 0, MISTAKES.index(mistake) if mistake else 99])
    drifting = np.random.default_rng([seed, 1])
    kept = {} if taken is None else taken
    known = resistor(chain.known_ohm, 0.3e-12)
    plugged: dict[str, dict[str, Any]] = {
        "open": {"thing": None},
        "short": {"thing": None, "short": SHORT},
        "known": {"thing": known, "hum": chain.hum - 30},
        "thing": {"thing": thing},
        "again": {"thing": None},
    }
    size = drawn(MISTAKE_RANGES[mistake], rng) if mistake in MISTAKE_RANGES else 0.0
    later = State()
    if mistake == "stale calibration":
        if rng.random() < 0.5:
            change = drawn(MISTAKE_RANGES["stale gain"], rng)
            later.gain = change if rng.random() < 0.5 else -change
        else:
            later.lead = drawn(MISTAKE_RANGES["stale lead"], rng)
    elif mistake == "hum too strong":
        plugged["thing"]["hum"] = size
    elif mistake == "nothing plugged in":
        plugged["thing"] = {"thing": None}
    elif mistake == "shorted jack":
        plugged["thing"] = {"thing": None, "short": size}
    elif mistake == "crackling contact":
        plugged["thing"]["open_share"] = size
    elif mistake == "calibrations exchanged":
        names = list(rng.choice(["open", "short", "known"], 2, replace=False))
        plugged[names[0]], plugged[names[1]] = plugged[names[1]], plugged[names[0]]
    state = State()
    recordings, rates = {}, {}
    for number, (name, how) in enumerate(plugged.items()):
        now = State(state.gain + later.gain, state.lead + later.lead)
        after = name in ("thing", "again")
        played, rate = stimulus, chain.rate
        if mistake == "no output" and name == "thing":
            played = stimulus * 10 ** (size / 20)
        if mistake == "another sample rate" and name == "thing":
            rate = 44_100 if chain.rate != 44_100 else 48_000
        moved = now if after else state
        key = (
            seed,
            chain,
            number,
            moved.gain,
            moved.lead,
            float(np.abs(played).max()),
            *_words(how),
        )
        if key not in kept:
            own = np.random.default_rng([seed, 2, number])
            kept[key] = record(played, chain, rng=own, state=moved, **how)
        samples = kept[key]
        if mistake == "clipping" and name == "thing":
            gain = size - 20 * np.log10(np.abs(samples).max())
            own = np.random.default_rng([seed, 2, number])
            samples = record(played, chain, rng=own, state=now, level=gain, **how)
        if mistake == "channels swapped":
            samples = samples[::-1]
        if mistake == "channels alike":
            samples = samples[[1, 1]] if seed % 2 else samples[[0, 0]]
        if mistake == "samples lost" and name == "thing":
            at = int(samples.shape[1] * rng.uniform(0.3, 0.7))
            samples = np.delete(samples, slice(at, at + round(size)), axis=1)
        recordings[name], rates[name] = samples, rate
        state = drift_on(state, chain, drifting)
    return Session(chain, thing, recordings, rates)


def _words(how: dict[str, Any]) -> tuple[Any, ...]:
    """How something was plugged in, so that equal ones are the same recording."""
    return tuple((k, v.name if isinstance(v, Thing) else v) for k, v in sorted(how.items()))
