"""What has a script of its own: knobs in a notebook, and pages that move and sound."""

from .show.page.knob_view import KnobView, knob_view
from .show.page.knobs import Knobs, knobs
from .show.page.listen import Listening, listen
from .show.page.live_page import LivePage

__all__ = ["KnobView", "Knobs", "Listening", "LivePage", "knob_view", "knobs", "listen"]
