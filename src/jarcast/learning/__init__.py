"""Learning from the ledger; knows no files and no command line.

Its names are loaded on first use: recording a batch reads the beliefs and needs no numpy, and a
forecast needs no scikit-learn.
"""

from importlib import import_module
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from jarcast.learning.estimator import ConjugateRegression
    from jarcast.learning.learned import Learned, learn_batches
    from jarcast.learning.model.beliefs import load_beliefs

__all__ = ["ConjugateRegression", "Learned", "learn_batches", "load_beliefs"]

_HOMES = {
    "ConjugateRegression": "estimator",
    "Learned": "learned",
    "learn_batches": "learned",
    "load_beliefs": "model.beliefs",
}


if not TYPE_CHECKING:  # a type checker is to see the names above, and no others

    def __getattr__(name):
        if name in _HOMES:
            return getattr(import_module(f"jarcast.learning.{_HOMES[name]}"), name)
        raise AttributeError(f"module 'jarcast.learning' has no attribute '{name}'")


def __dir__() -> list[str]:
    return sorted(__all__)
