"""The colours of charts and pages, each with its partner on a dark screen.

Two inks far apart in lightness, and never by colour alone: they also differ in shape or filling.
"""

PAPER = "#ffffff"
INK = "#2d2a26"  # words
QUIET = "#5c554c"  # words beside them, and thin lines
OWN = "#17504b"  # what is yours: dark in grey as well
SOFT = "#8fb5ad"  # its range
PALE = "#e3ecea"  # outside the range; always with an edge
PUBLISHED = "#ebe1cd"  # what is published: light in grey as well
PUBLISHED_LINE = "#7d693f"
MARK = "#a8431a"  # what to do, and what did not hold; always with a word or a shape of its own

DARK = {
    PAPER: "#1c1a17",
    INK: "#efe9dd",
    QUIET: "#bdb4a5",
    OWN: "#8fd3c4",
    SOFT: "#3f726a",
    PALE: "#2a3432",
    PUBLISHED: "#413a2c",
    PUBLISHED_LINE: "#c9ae78",
    MARK: "#f5a078",
}


def dark_rules() -> str:
    """Style rules that draw a chart's SVG in the dark palette on a screen set to dark.

    What does not know them, as most programs that are no browser, keeps the light one; so does
    paper.
    """
    rules = "".join(
        f'[style*="{what}: {light}"]{{{what}:{dark} !important}}'
        for light, dark in DARK.items()
        for what in ("fill", "stroke")
    )
    return f"@media screen and (prefers-color-scheme: dark){{{rules}}}"
