"""What a guitar's passive electronics do to its sound, in numbers and pictures.

A guitar is a harness of parts joined at their lugs, and every answer is read from it:

>>> import guitarnet as gn
>>> guitar = gn.layouts.one_pickup(gn.Pickup("6.2k", "2.4 H", "120p"), treble_bleed="1n")
>>> h = gn.response(guitar, volume=[10, 5])
>>> gn.level_db(h).dims
('volume', 'frequency')
"""

import lazy_loader

__version__ = "0.1.0"
__getattr__, __dir__, __all__ = lazy_loader.attach_stub(__name__, __file__)
