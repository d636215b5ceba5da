"""What a guitar's passive electronics do to its sound, in numbers and pictures.

A guitar is a harness of parts joined at their lugs, and every answer is read from it:

>>> import guitarnet as gn
>>> guitar = gn.layouts.one_pickup(gn.Pickup("6.2k", "2.4 H", "120p"), treble_bleed="1n")
>>> h = gn.response(guitar, volume=[10, 5])
>>> gn.level_db(h).dims
('volume', 'frequency')
"""

from importlib import import_module
from typing import TYPE_CHECKING, Any

from .circuit import layouts
from .circuit.harness import Harness
from .circuit.netlist import Branch, Netlist
from .circuit.saved import harness_from_dict, harness_to_dict, load_harness, save_harness
from .errors import (
    BadFile,
    BadHarness,
    BadSetting,
    BadValue,
    CoarseGrid,
    GuitarnetError,
    NoSolution,
    NotExpressible,
    NotFinished,
    NotInstalled,
    TooLarge,
)
from .parts.blend import BlendPot
from .parts.choke import Choke
from .parts.humbucker import CONNECTIONS, Humbucker, tapped
from .parts.output import AmpInput, Cable, Jack, amp_input, amp_inputs, triode_input_capacitance
from .parts.pickup import Coil, Pickup
from .parts.pot import Pot
from .parts.switch import (
    Switch,
    double_throw,
    five_way_lever,
    four_way_lever,
    on_on_on,
    rotary,
    three_way_toggle,
)
from .parts.taper import (
    Taper,
    audio_taper,
    linear_taper,
    measured_taper,
    no_load,
    reverse_audio_taper,
    taper,
)
from .parts.two_lug import (
    Capacitor,
    Empty,
    Network,
    Resistor,
    bleed,
    capacitor_bleed,
    in_parallel,
    in_series,
    parallel_bleed,
    series_bleed,
)
from .preferred import marking, nearest_preferred, preferred_values, read_marking
from .solve.ac import node_impedance, node_voltage
from .study.bench.meter import (
    impedance,
    jack_capacitance,
    jack_resistance,
    lug_capacitance,
    lug_resistance,
)
from .study.response.measures import (
    bandwidth,
    effective_taper,
    level_db,
    peak,
    phase_deg,
    treble_change,
)
from .study.response.response import compare, response
from .study.response.sweep import frequency_grid
from .table import Table
from .units import format_value, read_value

if TYPE_CHECKING:
    from .course.checking import Checked, Exercise, check
    from .parts.archetypes import ready_pickup, ready_pickups
    from .parts.winding import (
        Winding,
        inductance_by_turns,
        resistance_at,
        winding,
        wire_diameter,
        wire_resistance,
    )
    from .show.card.card import job_card
    from .show.figures.bands import plot_bands, plot_ranking, plot_sensitivity
    from .show.figures.choices import plot_choices, plot_front, plot_match
    from .show.figures.fits import plot_fit
    from .show.figures.impedance import plot_impedance
    from .show.figures.responses import (
        plot_builds,
        plot_difference,
        plot_map,
        plot_measured,
        plot_response,
        plot_taper,
    )
    from .show.figures.string import plot_string_spectrum
    from .show.page.knob_view import KnobView, knob_view
    from .show.page.knobs import Knobs, knobs
    from .show.page.listen import Listening, listen
    from .show.page.live_page import LivePage, live_page
    from .show.schematic.draw import draw
    from .study.bench.expected import ExpectedReadings, expected_readings
    from .study.bench.ohmmeter import Ohmmeter, ResistanceReading, readings_of
    from .study.bench.recover import RecoveredValues, pot_from_largest, values_from_readings
    from .study.bench.truth_table import Selection, selections, truth_table
    from .study.bench.verify import CheckedReading, Verification, verify
    from .study.choose.bleed import choose_treble_bleed
    from .study.choose.choose import Range, choose
    from .study.choose.goals import Goal
    from .study.choose.match import match_response
    from .study.choose.score import BleedGoal
    from .study.faults.diagnose import Diagnosis, Explanation, diagnose
    from .study.faults.faults import Fault, Faults, faults
    from .study.faults.kinds import FAULT_KINDS
    from .study.faults.next_step import NextStep
    from .study.faults.symptoms import SYMPTOMS, symptoms_of
    from .study.fit.curves import MeasuredCurve, read_curve
    from .study.fit.fit import fit_pickup, fit_pickups
    from .study.fit.loads import Load, Unknown
    from .study.fit.measured import InductanceReading, Measurements, PeakReading, ReadingFit
    from .study.fit.result import CurveFit, FittedValue, PickupFit
    from .study.formulas.handover import to_lcapy, to_spice
    from .study.formulas.symbols import (
        dc_gain,
        poles,
        symbol_of,
        symbols_of,
        transfer_function,
        zeros,
    )
    from .study.response.large import plan_sweep
    from .study.response.large_plan import SweepPlan
    from .study.response.table import response_table
    from .study.spread.bands import tolerance_band
    from .study.spread.hum import hum
    from .study.spread.noise import (
        a_weighting_db,
        hum_table,
        noise_level,
        noise_spectrum,
        noise_table,
    )
    from .study.spread.quantiles import quantile_table, quantiles
    from .study.spread.sensitivity import (
        sample_shares,
        sensitivity,
        sensitivity_ranking,
        sobol_shares,
    )
    from .study.spread.tolerance import corners, limits, spread, spread_tapers, tolerances
    from .study.string.audio import (
        impulse_response,
        match_level,
        normalise,
        play_through,
        read_sound,
        sound,
        write_sound,
    )
    from .study.string.pluck import pluck
    from .study.string.string import (
        PickupPlace,
        cancellation_frequency,
        harmonic_level_db,
        string_spectrum,
    )

__version__ = "0.1.0"

# Loaded when they are first asked for, so that the import stays as light as that of xarray.
_LATER = {
    "course.checking": (
        "Checked",
        "Exercise",
        "check",
    ),
    "parts.archetypes": (
        "ready_pickup",
        "ready_pickups",
    ),
    "parts.winding": (
        "Winding",
        "inductance_by_turns",
        "resistance_at",
        "winding",
        "wire_diameter",
        "wire_resistance",
    ),
    "show.figures.bands": (
        "plot_bands",
        "plot_ranking",
        "plot_sensitivity",
    ),
    "show.figures.choices": (
        "plot_choices",
        "plot_front",
        "plot_match",
    ),
    "show.figures.responses": (
        "plot_builds",
        "plot_difference",
        "plot_map",
        "plot_measured",
        "plot_response",
        "plot_taper",
    ),
    "show.figures.fits": ("plot_fit",),
    "show.figures.impedance": ("plot_impedance",),
    "show.card.card": ("job_card",),
    "show.page.knob_view": (
        "KnobView",
        "knob_view",
    ),
    "show.page.knobs": (
        "Knobs",
        "knobs",
    ),
    "show.page.listen": (
        "Listening",
        "listen",
    ),
    "show.page.live_page": (
        "LivePage",
        "live_page",
    ),
    "show.schematic.draw": ("draw",),
    "show.figures.string": ("plot_string_spectrum",),
    "study.spread.bands": ("tolerance_band",),
    "study.choose.choose": (
        "Range",
        "choose",
    ),
    "study.choose.bleed": ("choose_treble_bleed",),
    "study.choose.score": ("BleedGoal",),
    "study.choose.goals": ("Goal",),
    "study.choose.match": ("match_response",),
    "study.fit.curves": (
        "MeasuredCurve",
        "read_curve",
    ),
    "study.faults.diagnose": (
        "Diagnosis",
        "Explanation",
        "diagnose",
    ),
    "study.bench.expected": (
        "ExpectedReadings",
        "expected_readings",
    ),
    "study.faults.kinds": ("FAULT_KINDS",),
    "study.faults.faults": (
        "Fault",
        "Faults",
        "faults",
    ),
    "study.fit.fit": (
        "fit_pickup",
        "fit_pickups",
    ),
    "study.fit.result": (
        "CurveFit",
        "FittedValue",
        "PickupFit",
    ),
    "study.formulas.handover": (
        "to_lcapy",
        "to_spice",
    ),
    "study.spread.hum": ("hum",),
    "study.response.large": ("plan_sweep",),
    "study.response.large_plan": ("SweepPlan",),
    "study.fit.loads": (
        "Load",
        "Unknown",
    ),
    "study.faults.next_step": ("NextStep",),
    "study.spread.noise": (
        "a_weighting_db",
        "hum_table",
        "noise_level",
        "noise_spectrum",
        "noise_table",
    ),
    "study.bench.ohmmeter": (
        "Ohmmeter",
        "ResistanceReading",
        "readings_of",
    ),
    "study.string.pluck": ("pluck",),
    "study.spread.quantiles": (
        "quantile_table",
        "quantiles",
    ),
    "study.fit.measured": (
        "InductanceReading",
        "Measurements",
        "PeakReading",
        "ReadingFit",
    ),
    "study.bench.recover": (
        "RecoveredValues",
        "pot_from_largest",
        "values_from_readings",
    ),
    "study.response.table": ("response_table",),
    "study.spread.sensitivity": (
        "sample_shares",
        "sensitivity",
        "sensitivity_ranking",
        "sobol_shares",
    ),
    "study.string.audio": (
        "impulse_response",
        "match_level",
        "normalise",
        "play_through",
        "read_sound",
        "sound",
        "write_sound",
    ),
    "study.string.string": (
        "PickupPlace",
        "cancellation_frequency",
        "harmonic_level_db",
        "string_spectrum",
    ),
    "study.formulas.symbols": (
        "dc_gain",
        "poles",
        "symbol_of",
        "symbols_of",
        "transfer_function",
        "zeros",
    ),
    "study.faults.symptoms": (
        "SYMPTOMS",
        "symptoms_of",
    ),
    "study.spread.tolerance": (
        "corners",
        "limits",
        "spread",
        "spread_tapers",
        "tolerances",
    ),
    "study.bench.truth_table": (
        "Selection",
        "selections",
        "truth_table",
    ),
    "study.bench.verify": (
        "CheckedReading",
        "Verification",
        "verify",
    ),
}
_HOME = {name: module for module, names in _LATER.items() for name in names}


def __getattr__(name: str) -> Any:
    if name not in _HOME:
        raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
    value = getattr(import_module(f".{_HOME[name]}", __name__), name)
    globals()[name] = value
    return value


def __dir__() -> list[str]:
    return sorted(__all__)


__all__ = [
    "CONNECTIONS",
    "FAULT_KINDS",
    "SYMPTOMS",
    "AmpInput",
    "BadFile",
    "BadHarness",
    "BadSetting",
    "BadValue",
    "BleedGoal",
    "BlendPot",
    "Branch",
    "Cable",
    "Capacitor",
    "Checked",
    "CheckedReading",
    "Choke",
    "CoarseGrid",
    "Coil",
    "CurveFit",
    "Diagnosis",
    "Empty",
    "Exercise",
    "ExpectedReadings",
    "Explanation",
    "Fault",
    "Faults",
    "FittedValue",
    "Goal",
    "GuitarnetError",
    "Harness",
    "Humbucker",
    "InductanceReading",
    "Jack",
    "KnobView",
    "Knobs",
    "Listening",
    "LivePage",
    "Load",
    "MeasuredCurve",
    "Measurements",
    "Netlist",
    "Network",
    "NextStep",
    "NoSolution",
    "NotExpressible",
    "NotFinished",
    "NotInstalled",
    "Ohmmeter",
    "PeakReading",
    "Pickup",
    "PickupFit",
    "PickupPlace",
    "Pot",
    "Range",
    "ReadingFit",
    "RecoveredValues",
    "ResistanceReading",
    "Resistor",
    "Selection",
    "SweepPlan",
    "Switch",
    "Table",
    "Taper",
    "TooLarge",
    "Unknown",
    "Verification",
    "Winding",
    "__version__",
    "a_weighting_db",
    "amp_input",
    "amp_inputs",
    "audio_taper",
    "bandwidth",
    "bleed",
    "cancellation_frequency",
    "capacitor_bleed",
    "check",
    "choose",
    "choose_treble_bleed",
    "compare",
    "corners",
    "dc_gain",
    "diagnose",
    "double_throw",
    "draw",
    "effective_taper",
    "expected_readings",
    "faults",
    "fit_pickup",
    "fit_pickups",
    "five_way_lever",
    "format_value",
    "four_way_lever",
    "frequency_grid",
    "harmonic_level_db",
    "harness_from_dict",
    "harness_to_dict",
    "hum",
    "hum_table",
    "impedance",
    "impulse_response",
    "in_parallel",
    "in_series",
    "inductance_by_turns",
    "jack_capacitance",
    "jack_resistance",
    "job_card",
    "knob_view",
    "knobs",
    "layouts",
    "level_db",
    "limits",
    "linear_taper",
    "listen",
    "live_page",
    "load_harness",
    "lug_capacitance",
    "lug_resistance",
    "marking",
    "match_level",
    "match_response",
    "measured_taper",
    "nearest_preferred",
    "no_load",
    "node_impedance",
    "node_voltage",
    "noise_level",
    "noise_spectrum",
    "noise_table",
    "normalise",
    "on_on_on",
    "parallel_bleed",
    "peak",
    "phase_deg",
    "plan_sweep",
    "play_through",
    "plot_bands",
    "plot_builds",
    "plot_choices",
    "plot_difference",
    "plot_fit",
    "plot_front",
    "plot_impedance",
    "plot_map",
    "plot_match",
    "plot_measured",
    "plot_ranking",
    "plot_response",
    "plot_sensitivity",
    "plot_string_spectrum",
    "plot_taper",
    "pluck",
    "poles",
    "pot_from_largest",
    "preferred_values",
    "quantile_table",
    "quantiles",
    "read_curve",
    "read_marking",
    "read_sound",
    "read_value",
    "readings_of",
    "ready_pickup",
    "ready_pickups",
    "resistance_at",
    "response",
    "response_table",
    "reverse_audio_taper",
    "rotary",
    "sample_shares",
    "save_harness",
    "selections",
    "sensitivity",
    "sensitivity_ranking",
    "series_bleed",
    "sobol_shares",
    "sound",
    "spread",
    "spread_tapers",
    "string_spectrum",
    "symbol_of",
    "symbols_of",
    "symptoms_of",
    "taper",
    "tapped",
    "three_way_toggle",
    "to_lcapy",
    "to_spice",
    "tolerance_band",
    "tolerances",
    "transfer_function",
    "treble_change",
    "triode_input_capacitance",
    "truth_table",
    "values_from_readings",
    "verify",
    "winding",
    "wire_diameter",
    "wire_resistance",
    "write_sound",
    "zeros",
]
