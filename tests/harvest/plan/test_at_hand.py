"""Jars at hand, as they are typed."""

import pytest

from jarcast.errors import BatchError
from jarcast.harvest.plan.at_hand import parse_have


@pytest.mark.parametrize(
    ("text", "found"),
    [
        ("14 pint-wide, 9 quart", {"pint-wide": 14.0, "quart": 9.0}),
        ("14 wide-mouth pints and 9 quarts", {"pint-wide": 14.0, "quart": 9.0}),
        ("3 x pint; 2 pint", {"pint": 5.0}),
        ("12 half-pints", {"half-pint": 12.0}),
    ],
)
def test_counts_and_sorts_are_read(text: str, found: dict[str, float]) -> None:
    assert parse_have(text) == found


@pytest.mark.parametrize(
    "text", ["", "pints", "14", "3 buckets", "999999 pint", "-3 pint", "3 pint,"]
)
def test_what_is_no_count_of_jars_is_refused(text: str) -> None:
    with pytest.raises(BatchError):
        parse_have(text)
