"""Ready harnesses. Each is a function that reads like the wiring."""

from .basses import BLENDINGS, bass_blend, bass_two_volumes
from .bench import WIRINGS
from .humbuckers import hss, two_humbuckers, two_humbuckers_rotary
from .push_pulls import PULLS, two_humbuckers_push_pull
from .single_coils import (
    three_single_coils,
    three_single_coils_blender,
    two_single_coils,
    two_single_coils_four_way,
    two_stacked_pairs,
)
from .single_pickup import one_pickup, pickup_alone
from .tone_networks import BASS_CUTS, bass_cut, rotary_notch, rotary_tone

__all__ = [
    "BASS_CUTS",
    "BLENDINGS",
    "PULLS",
    "WIRINGS",
    "bass_blend",
    "bass_cut",
    "bass_two_volumes",
    "hss",
    "one_pickup",
    "pickup_alone",
    "rotary_notch",
    "rotary_tone",
    "three_single_coils",
    "three_single_coils_blender",
    "two_humbuckers",
    "two_humbuckers_push_pull",
    "two_humbuckers_rotary",
    "two_single_coils",
    "two_single_coils_four_way",
    "two_stacked_pairs",
]
