"""What has a script of its own: knobs in a notebook, and pages that move and sound."""

from .show.page.knobs import Knobs, knobs
from .show.page.listen import Listening, listen
from .show.page.live_page import LivePage

__all__ = ["Knobs", "Listening", "LivePage", "knobs", "listen"]
