"""What a person says becomes of the last jar, where the rest does not fill it."""

from enum import StrEnum


class LastJar(StrEnum):
    """It is left part full, has a jar of half the size where that will do, is topped up with brine,
    or the rest is eaten; or jars are always whole, one way or another. ``LEARN``: nothing was said.
    """

    PART = "part"
    SMALLER = "smaller"
    TOPPED = "topped"
    EATEN = "eaten"
    WHOLE = "whole"
    LEARN = "learn"
