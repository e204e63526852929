"""The ledger: one SQLite file, and the only place that writes it.

Nothing in it is changed or deleted. A correction is a new reading that supersedes the old one,
which stays readable; triggers refuse anything else.
"""

from jarcast.ledger.connection import default_path
from jarcast.ledger.entry import AddResult, Entry, Reading
from jarcast.ledger.kept_forecasts import KeptForecast
from jarcast.ledger.store import Ledger

__all__ = ["AddResult", "Entry", "KeptForecast", "Ledger", "Reading", "default_path"]
