"""The errors: each can be copied, and go from one process to another, with what it holds."""

import copy
import pickle

import pytest

from jarcast import errors

HELD = [
    errors.BatchError("two problems", ("a", "b")),
    errors.OtherValuesError("it is there", ("jars: 9 and 8",), (("c1", "jars"),)),
    errors.RecipeError("one problem", ("a",)),
    *(kind("said") for kind in (errors.ForecastError, errors.LedgerError, errors.MeasureError)),
]


@pytest.mark.parametrize("error", HELD, ids=lambda error: type(error).__name__)
def test_an_error_is_the_same_in_another_process(error: Exception) -> None:
    for again in (pickle.loads(pickle.dumps(error)), copy.deepcopy(error)):  # noqa: S301
        assert type(again) is type(error)
        assert str(again) == str(error)
        assert vars(again) == vars(error)
