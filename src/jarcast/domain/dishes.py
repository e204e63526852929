"""Pickles called by the dish and not by the vegetable: 'bread and butter pickles', 'giardiniera'.

What goes into one differs from kitchen to kitchen, so a dish is a kind of its own: it is asked what
it is made of, and it teaches nothing of a vegetable.
"""

from functools import lru_cache

from jarcast.domain.names import BREAD_AND_BUTTER, produce_key

# What a dish is mostly made of, produce and cut, to offer where it is asked. Bread-and-butter
# pickles and mixed pickles: Complete Guide to Home Canning, 2015, Guide 6. The others: common
# practice, no source.
DISHES = {
    BREAD_AND_BUTTER: ("cucumber + onion", "slices"),
    "dill pickle": ("cucumber", ""),
    "kosher dill": ("cucumber", ""),
    "kosher dill pickle": ("cucumber", ""),
    "garlic dill": ("cucumber", ""),
    "garlic dill pickle": ("cucumber", ""),
    "half sour": ("cucumber", "whole"),
    "sweet pickle": ("cucumber", ""),
    "refrigerator pickle": ("cucumber", ""),
    "fridge pickle": ("cucumber", ""),
    "hamburger dill": ("cucumber", "slices"),
    "pickle": ("cucumber", ""),
    "mixed pickle": ("mixed vegetable", ""),
    "dilly carrot": ("carrot", "sticks"),
    "escabeche": ("carrot + jalapeno + onion", "slices"),
    "giardiniera": ("cauliflower + carrot + celery + bell pepper", "pieces"),
    "chow chow": ("cabbage + green tomato + bell pepper + onion", "chopped"),
    "piccalilli": ("green tomato + cabbage + bell pepper + onion", "chopped"),
}


@lru_cache(256)
def made_of(produce: str) -> tuple[str, str] | None:
    """What a dish is mostly made of, produce and cut; None for what is no dish."""
    return DISHES.get(produce_key(produce))
