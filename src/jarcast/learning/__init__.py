"""What is learned from the ledger, and how; knows no files and no command line.

``ConjugateRegression`` is loaded on first use: a forecast does without scikit-learn.
"""

from typing import TYPE_CHECKING, Any

from jarcast.learning.learned import Learned, learn_batches

if TYPE_CHECKING:
    from jarcast.learning.estimator import ConjugateRegression

__all__ = ["ConjugateRegression", "Learned", "learn_batches"]


def __getattr__(name: str) -> Any:
    if name == "ConjugateRegression":
        from jarcast.learning.estimator import ConjugateRegression

        return ConjugateRegression
    raise AttributeError(f"module 'jarcast.learning' has no attribute '{name}'")
