"""What a guitar's passive electronics do to its sound, in numbers and pictures.

A guitar is a harness of parts joined at their lugs, and every answer is read from it:

>>> import guitarnet as gn
>>> guitar = gn.layouts.one_pickup(gn.Pickup("6.2k", "2.4 H", "120p"), treble_bleed="1n")
>>> h = gn.response(guitar, volume=[10, 5])
>>> gn.level_db(h).dims
('volume', 'frequency')
"""

from typing import Any

import lazy_loader

__version__ = "0.1.0"
_loaded, __dir__, __all__ = lazy_loader.attach_stub(__name__, __file__)
_CALLED = {"Inductor": "Choke", "Potentiometer": "Pot", "Guitar": "Harness", "Amp": "AmpInput"}


def __getattr__(name: str) -> Any:
    try:
        return _loaded(name)
    except AttributeError:
        if name.startswith("_"):
            raise
        from .errors import nearest

        also = _CALLED.get(name)
        fix = f"it is called gn.{also} here" if also else nearest(name, __all__, otherwise="")
        raise AttributeError(f"guitarnet has no {name!r}{'; ' if fix else ''}{fix}") from None
