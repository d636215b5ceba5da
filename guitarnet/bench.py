"""At the bench: what a meter reads, what a switch selects, and which fault explains a reading."""

from .study.bench.expected import ExpectedReadings
from .study.bench.meter import jack_capacitance, lug_capacitance, lug_resistance
from .study.bench.ohmmeter import Ohmmeter
from .study.bench.readings import ResistanceReading, readings_of
from .study.bench.recover import RecoveredValues, pot_from_largest, values_from_readings
from .study.bench.truth_table import Selection, selections
from .study.bench.verify import CheckedReading, Verification
from .study.faults.diagnose import Diagnosis, Explanation
from .study.faults.faults import Fault, Faults, faults
from .study.faults.kinds import FAULT_KINDS
from .study.faults.next_step import NextStep
from .study.faults.symptoms import SYMPTOMS, symptoms_of

__all__ = [
    "FAULT_KINDS",
    "SYMPTOMS",
    "CheckedReading",
    "Diagnosis",
    "ExpectedReadings",
    "Explanation",
    "Fault",
    "Faults",
    "NextStep",
    "Ohmmeter",
    "RecoveredValues",
    "ResistanceReading",
    "Selection",
    "Verification",
    "faults",
    "jack_capacitance",
    "lug_capacitance",
    "lug_resistance",
    "pot_from_largest",
    "readings_of",
    "selections",
    "symptoms_of",
    "values_from_readings",
]
