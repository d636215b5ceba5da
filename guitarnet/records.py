"""A record that remembers: what was read, found and done, of pickups and guitars."""

from .show.page.sheets import certificate_page, guitar_sheet
from .study.record.pickups import (
    Certificate,
    History,
    Returned,
    certificate,
    history,
    returned,
)
from .study.record.record import Entry, Record

__all__ = [
    "Certificate",
    "Entry",
    "History",
    "Record",
    "Returned",
    "certificate",
    "certificate_page",
    "guitar_sheet",
    "history",
    "returned",
]
