# What `guitarnet` holds; each is loaded when it is first asked for (see __init__.py).
from . import (
    audio as audio,
    bench as bench,
    catalogue as catalogue,
    choosing as choosing,
    errors as errors,
    fitting as fitting,
    formulas as formulas,
    layouts as layouts,
    measuring as measuring,
    pages as pages,
    plots as plots,
    records as records,
    strings as strings,
    sweeps as sweeps,
    switches as switches,
    tolerances as tolerances,
    values as values,
    windings as windings,
)
from .circuit.harness import Harness as Harness
from .circuit.saved import (
    harness_from_dict as harness_from_dict,
    harness_to_dict as harness_to_dict,
    load_harness as load_harness,
    save_harness as save_harness,
)
from .errors import GuitarnetError as GuitarnetError
from .parts.blend import BlendPot as BlendPot
from .parts.catalogue import ready_pickup as ready_pickup, ready_pickups as ready_pickups
from .parts.choke import Choke as Choke
from .parts.humbucker import Humbucker as Humbucker, tapped as tapped
from .parts.measured import Measured as Measured
from .parts.output import AmpInput as AmpInput, Cable as Cable, Jack as Jack, amp_input as amp_input
from .parts.pickup import Coil as Coil, Pickup as Pickup
from .parts.pot import Pot as Pot
from .parts.switch import Switch as Switch
from .parts.taper import (
    Taper as Taper,
    audio_taper as audio_taper,
    linear_taper as linear_taper,
    measured_taper as measured_taper,
    no_load as no_load,
    reverse_audio_taper as reverse_audio_taper,
    taper as taper,
)
from .parts.two_lug import (
    Capacitor as Capacitor,
    Empty as Empty,
    Network as Network,
    Resistor as Resistor,
    bleed as bleed,
    capacitor_bleed as capacitor_bleed,
    in_parallel as in_parallel,
    in_series as in_series,
    parallel_bleed as parallel_bleed,
    series_bleed as series_bleed,
)
from .show.card.card import job_card as job_card
from .show.draw import draw as draw
from .show.figures.responses import plot_response as plot_response
from .show.page.live_page import live_page as live_page
from .study.bench.expected import expected_readings as expected_readings
from .study.bench.meter import impedance as impedance, jack_resistance as jack_resistance
from .study.bench.truth_table import truth_table as truth_table
from .study.bench.verify import verify as verify
from .study.choose.bleed import choose_treble_bleed as choose_treble_bleed
from .study.explain.explain import explain as explain
from .study.faults.diagnose import diagnose as diagnose
from .study.fit.fit import fit_pickup as fit_pickup
from .study.response.measures import (
    bandwidth as bandwidth,
    effective_taper as effective_taper,
    level_db as level_db,
    peak as peak,
    phase_deg as phase_deg,
    treble_change as treble_change,
)
from .study.response.response import response as response
from .table import Table as Table

__version__: str
