"""Lines as different cooks write them: each figure, and what is asked, is what a reader finds.

What each line comes to was written out by hand: pounds, cups, hours, and jars by sort. Whatever is
not certainly the batch's is asked or left to the note, and never added. Names are invented.
"""

import pytest

from jarcast.domain.jar_text import on_shelf, read_jars
from jarcast.errors import MeasureError
from jarcast.measures import parse_hours, parse_volume, parse_weight
from jarcast.measures.numbers import count
from jarcast.notebook.line import Line, read_line

LB, CUP = 453.59237, 236.5882365  # NIST Handbook 44, appendix C
WEIGHTS = {
    "as_bought": "bought", "trimmed": "trimmed", "cured": "drained", "cooked": "cooked",
    "not_jarred": "not jarred",
}  # fmt: skip


def weighed(text: str) -> str:
    try:
        return f"{parse_weight(text) / LB:.4g} lb"
    except MeasureError:
        return f"{parse_volume(text) / CUP:.4g} c"


def figures(line: Line) -> str:
    """Every figure of a line, in one order and in one unit."""
    cells, told = line.cells, []
    told += [f"{name} {weighed(cells[c])}" for c, name in WEIGHTS.items() if c in cells]
    told += [f"salt {cells['salt']}"] if "salt" in cells else []
    told += [f"{parse_hours(cells['cure_hours']):g} h"] if "cure_hours" in cells else []
    if "jars" in cells:
        told.append(" + ".join(f"{n:g} {sort}" for n, sort in on_shelf(read_jars(cells["jars"]))))
    for column in ("brine_made", "brine_left"):
        if column in cells:
            told.append(f"{column[6:]} {parse_volume(cells[column]) / CUP:.4g} c")
    told += [f"sealed {count(cells['sealed']):g}"] if "sealed" in cells else []
    return "; ".join(told)


# Each line, its figures, and words of what is asked of it, in its order.
PARTS_OF_BRINE = [
    ("okra, 4 lb, 8 pints, vinegar 1 qt, water 1 qt", "bought 4 lb; 8 pint", ["all the brine"]),
    ("okra, 4 lb, 8 pts, brine: 1 qt vinegar, 1 qt water", "bought 4 lb; 8 pint; made 8 c", []),
    ("okra, 4 lb, 8 pts, 2 pints vinegar 2 pints water", "bought 4 lb; 8 pint", ["all the brine"]),
    ("okra 4 lb, 8 pts, brine: 1 qt vinegar 1 qt water 1/4 c salt",
     "bought 4 lb; 8 pint; made 8 c", []),
    ("okra 4 lb, 8 pts, brine: vinegar 4 c, water 4 c, sugar 1 c, salt 1/4 c",
     "bought 4 lb; 8 pint; made 8 c", []),
    ("okra 4 lb, 8 pts, brine of 1 qt vinegar and 1 qt water", "bought 4 lb; 8 pint; made 8 c", []),
    ("okra 4 lb, 8 pts, 2 qt brine (1 qt vinegar, 1 qt water)",
     "bought 4 lb; 8 pint; made 8 c", []),
    ("okra 4 lb, 8 pts, 1/2 gal vinegar 1/2 gal water", "bought 4 lb; 8 pint", ["all the brine"]),
    ("okra 4 lb, 8 pts, 1 half gallon brine", "bought 4 lb; 8 pint; made 8 c", []),
    ("okra 4 lb, 8 pts and 1 qt cider vinegar", "bought 4 lb; 8 pint", ["all the brine"]),
    ("okra 4 lb, 8 pts, 2 qts 50/50 vinegar water", "bought 4 lb; 8 pint", ["all the brine"]),
    ("okra 4 lb, 8 pts, 1 qt each vinegar and water", "bought 4 lb; 8 pint", ["what is 1 qt"]),
    ("okra 64 oz vinegar, 8 pts", "8 pint", ["all the brine"]),
    ("okra 4 lb, 8 pts, 1 c vinegar left", "bought 4 lb; 8 pint", ["what is 1 c"]),
    ("okra 4 lb, 8 pts in cider vinegar", "bought 4 lb; 8 pint", []),
    ("okra 4 lb, 8 pts water bath 10 min", "bought 4 lb; 8 pint", []),
    ("okra 4 lb, 8 pts, 1/4 c mustard seed, 2 tbsp dill seed in the brine",
     "bought 4 lb; 8 pint", []),
    ("okra 4 lb, 8 pts, 1/4 c pickling spice in brine, 9 c brine",
     "bought 4 lb; 8 pint; made 9 c", []),
    ("okra 4 lb, 8 pts, 2 c sugar, 1 c honey, 8 c brine", "bought 4 lb; 8 pint; made 8 c", []),
    ("okra 4 lb, 8 pts, 2 tbsp dill in brine", "bought 4 lb; 8 pint", ["what is 2 tbsp"]),
    ("sugar snap peas, 6 lb, 9 pts", "bought 6 lb; 9 pint", []),
    ("okra, 4 lb, 12 pts, brine: 6 c vin, 6 c water, 1 c left",
     "bought 4 lb; 12 pint; made 12 c; left 1 c", []),
    ("okra, 4 lb, 12 pts, brine: 6 c vin. + 6 c wtr", "bought 4 lb; 12 pint; made 12 c", []),
    ("okra, 4 lb, 12 pts, brine: 6 c Vin/6 c water", "bought 4 lb; 12 pint; made 12 c", []),
    ("okra, 4 lb, 12 pts, brine: 3 pts vin 3 pts water", "bought 4 lb; 12 pint; made 12 c", []),
    ("okra, 4 lb, 12 pts, brine: 6 c vinagar, 6 c H2O", "bought 4 lb; 12 pint; made 12 c", []),
    ("okra 4 lb, 12 pts. Brine: 6 c vinegar, 6 c water, 1 c left",  # a new sentence
     "bought 4 lb; 12 pint; made 12 c; left 1 c", []),
    ("okra 4 lb, 12 pts. Brine 6 c white vin 6 c h2o", "bought 4 lb; 12 pint; made 12 c", []),
    ("okra, 4 lb, 12 pts, 6 c vin, 6 c water", "bought 4 lb; 12 pint", ["all the brine"]),
    ("okra, 4 lb, 12 pts, brine: 6 c sour, 6 c water",
     "bought 4 lb; 12 pint; made 6 c", ["is 6 c all the brine, with 6 c water beside it"]),
]  # fmt: skip
# A last jar called part full, by the words alone; and labels before their weights, unparted.
LAST_AND_LABELS = [
    ("okra, 4 lb, 14 pts, last one half full", "bought 4 lb; 13.5 pint", []),
    ("okra, 4 lb, 10 pints (last only half full)", "bought 4 lb; 9.5 pint", []),
    ("okra, 4 lb, 3 quarts and 2 pints, the last pint was three quarters full",
     "bought 4 lb; 3 quart + 1.75 pint", []),
    ("okra, 4 lb, 9 1/2 pints, last jar half full", "bought 4 lb; 9.5 pint", []),  # told already
    ("okra, 4 lb, 10 pints, last jar part full",
     "bought 4 lb; 10 pint", ["is that one of 10 pints, and how full"]),
    ("okra, 4 lb, 10 pints, one half full",
     "bought 4 lb; 10 pint", ["is that one of 10 pints, and how full"]),
    ("okra, 4 lb, 2 qts & 3 pts, last qt half full", "bought 4 lb; 1.5 quart + 3 pint", []),
    ("okra, 4 lb, 2 pts & 3 qts, last pint half full", "bought 4 lb; 1.5 pint + 3 quart", []),
    ("okra, 4 lb, 8 pts, last jar a quarter empty", "bought 4 lb; 7.75 pint", []),
    ("okra, 4 lb, 8 pts, last two jars half full", "bought 4 lb; 7 pint", []),
    ("okra, 4 lb, 6 pints, last one 3/4, brine 8 c", "bought 4 lb; 5.75 pint; made 8 c", []),
    ("okra, 4 lb, 8 pts + 1 pt half full", "bought 4 lb; 8.5 pint", []),
    ("okra, 4 lb, 8 pts and a half-full one, brine 8 c", "bought 4 lb; 8.5 pint; made 8 c", []),
    ("okra, 4 lb, 6 pints and a partial", "bought 4 lb; 6 pint", ["is that one of 6 pints"]),
    ("okra, 4 lb, 8 pts, last jar wasn't full", "bought 4 lb; 8 pint", ["is that one of 8 pts"]),
    ("okra, 4 lb, 6 pints, 8 c brine, last 1/2 c left",
     "bought 4 lb; 6 pint; made 8 c; left 0.5 c", []),
    ("okra, 4 lb, 9 pints and 1/2 pint", "bought 4 lb; 9 pint", ["a smaller jar, or half a jar"]),
    ("okra, 4 lb, 5 litre jars and a half-litre",
     "bought 4 lb; 5 1l", ["a smaller jar, or half a jar"]),
    ("okra, 4 lb, 7 pt + 1 hp", "bought 4 lb; 7 pint + 1 half-pint", []),
    ("okra, 4 lb, 10 pints, last year jars were half full", "bought 4 lb; 10 pint", []),
    ("okra 9 lb. trimmed 7 lb. 5 quarts", "bought 9 lb; trimmed 7 lb; 5 quart", []),
    ("okra 9 lb trimmed 7 lb drained 6 lb, 5 quarts",
     "bought 9 lb; trimmed 7 lb; drained 6 lb; 5 quart", []),
    ("okra 9 lb trimmed, 7 lb drained, 5 quarts", "trimmed 9 lb; drained 7 lb; 5 quart", []),
    ("okra 6 lb trimmed 9 pts brine 8 c 1 c left",
     "trimmed 6 lb; 9 pint; made 8 c; left 1 c", []),
    ("okra 8 lb trimmed 2 lb waste, 7 pints", "trimmed 8 lb; 7 pint", []),
    ("okra, 7 lb, 8 1/2 pints, made 9 cups, 1 1/2 left",
     "bought 7 lb; 8.5 pint; made 9 c; left 1.5 c", []),
    ("okra, 7 lb, made 9 pints, 2 left, brine 8 cups",
     "bought 7 lb; 9 pint; made 8 c", ["which unit"]),  # jars or brine
]  # fmt: skip
# A second pot, and other brine that is no jars of pints and quarts; 'over' that is more than.
POTS_AND_OVER = [
    ("okra 25 lb, 27 pints, 4 qts brine + a second pot of 6 cups",
     "bought 25 lb; 27 pint; made 22 c", []),
    ("okra 6 lb, 9 pts, 8 c brine, 2nd pot 3 c", "bought 6 lb; 9 pint; made 11 c", []),
    ("okra 6 lb, 9 pts, 2 qts brine, 2nd pot 1 qt",  # or a load of the canner
     "bought 6 lb; 9 pint; made 8 c", ["what is 1 qt? Say 'jars', 'brine'"]),
    ("okra 6 lb, 9 pts, pot 1: 2 qts, pot 2: 1 qt",
     "bought 6 lb; 9 pint", ["what is 2 qts", "what is 1 qt"]),
    ("okra 6 lb, 9 pts, brine 8 c, topped up w/ 1 qt",
     "bought 6 lb; 9 pint; made 8 c", ["what is 1 qt"]),
    ("okra 6 lb 9 pts 3 qts pickling solution", "bought 6 lb; 9 pint; made 12 c", []),
    ("okra 6 lb, 9 pts, brine just over 2 qts", "bought 6 lb; 9 pint; made 8 c", []),
    ("okra 6 lb, over 9 pts", "bought 6 lb; 9 pint", []),
    ("okra 6 lb, 9 pts, made 3 qts, 1 c over", "bought 6 lb; 9 pint; made 12 c; left 1 c", []),
    ("okra 6 lb, 9 pts, 10 c brine, used all but 1/2 c",
     "bought 6 lb; 9 pint; made 10 c; left 0.5 c", []),
    ("okra 6 lb, 9 pts, 10 c brine, used all the brine but 1 c",
     "bought 6 lb; 9 pint; made 10 c; left 1 c", []),
    ("okra 6 lb, 9 pts, 10 c brine. One left", "bought 6 lb; 9 pint; made 10 c; left 1 c", []),
    ("okra 6 lb, 9 pts, brine made/left 12c/3c", "bought 6 lb; 9 pint; made 12 c; left 3 c", []),
    ("okra 6 lb, 9 pts, 10 cups brine, one and a half left",
     "bought 6 lb; 9 pint; made 10 c; left 1.5 c", []),
    ("okra 6 lb, 9 pts, 10 cups brine, two left", "bought 6 lb; 9 pint; made 10 c; left 2 c", []),
    ("okra 6 lb, 9 pts, 1 gal brine, half left",
     "bought 6 lb; 9 pint; made 16 c", ["how much is that? Write it like '2 cups left'"]),
]  # fmt: skip
# Numbers said in words, with a dash or a sign, and jars that were not filled.
SAID_OTHERWISE = [
    ("okra 6lb-2oz, 9 pts", "bought 6.125 lb; 9 pint", []),
    ("okra 8 lb, six pounds two ounces trimmed, 9 pts",
     "bought 8 lb; trimmed 6.125 lb; 9 pint", []),
    ("okra 6 lb - 4 oz trimmed, 9 pts", "9 pint", ["two weights"]),
    ("okra 6 & 1/2 lb, 9 pts", "bought 6.5 lb; 9 pint", []),
    ("okra 8 lb peeled down to 5 and a half, 9 pts", "bought 8 lb; trimmed 5.5 lb; 9 pint", []),
    ("okra 8 lb, set out 12 pints, filled 9",
     "bought 8 lb", ["is '12 pints' to be added", "which sort of jar"]),
    ("okra 8 lb, filled 9 of the 11 pints", "bought 8 lb; 9 pint", []),
    ("okra 8 lb, 7 + 2 pts", "bought 8 lb; 7 pint + 2 pint", []),
    ("okra 8 lb, 1 doz. & 5 pints", "bought 8 lb; 17 pint", []),
    ("okra 8 lb, 7 jars of a litre", "bought 8 lb; 7 1l", []),
]  # fmt: skip
# An amount without its number: read where it is surely one, or half of one; else asked.
NUMBERLESS = [
    (f"okra, 4 lb, {said}", f"bought 4 lb; {jars}", [asked])
    for said, jars, asked in (
        ("7 pts + half pint", "7 pint", "'half pint' has no number; write '1 half-pint', or"),
        ("7 pts, half-pint", "7 pint", "'half-pint' has no number"),
        ("4 qts, half pint", "4 quart", "'half pint' has no number"),
        ("4 qts and pint", "4 quart", "'pint' has no number; write it like '1 pint'"),
        ("quart and 7 pints", "7 pint", "'quart' has no number; write it like '1 quart'"),
        ("7 pts and a scant pint", "7 pint", "'a scant pint' has no number"),
        ("7 pts and a jelly jar", "7 pint", "'a jelly jar' names no size"),
        ("7 pts and half pint", "7 pint", "'half pint' has no number"),
        ("7 pt and half pint", "7 pint", "'half pint' has no number"),
        ("7 pints and half", "7 pint", "'half' has no number"),
        ("7 pints & half", "7 pint", "'half' has no number"),
        ("7 pts, couple cups of brine left", "7 pint", "'couple cups' has no number"),
    )
] + [
    (f"okra, 4 lb, 7 pts, 8 c brine, {said}", f"bought 4 lb; 7 pint; made 8 c; left {left} c", [])
    for said, left in {
        "half pint left": 1, "half pint brine left": 1, "pint left": 2, "pint left over": 2,
        "cup left": 1, "cup of brine left": 1, "quart of brine over": 4, "half a pint left": 1,
    }.items()
] + [
    (f"okra, {said}, 7 pts", f"bought {pounds:g} lb; 7 pint", [])
    for said, pounds in {
        "dozen lb": 12, "a dozen lbs": 12, "half dozen lbs": 6, "pound and a half": 1.5,
        "2 dozen lb": 24, "4lb8": 4.5, "4#8": 4.5,
    }.items()
] + [
    ("okra, couple pounds, 7 pts", "7 pint", ["'couple pounds' has no number"]),
    ("beans, 4lb8 bought, 4lb2 trimmed, 8 pts",
     "bought 4.5 lb; trimmed 4.125 lb; 8 pint", []),
    ("beans, 3kg5, 8 pts", "8 pint", ["is that a number"]),
    ("beans, 4 lb, 8 pts, 2qt1 brine", "bought 4 lb; 8 pint", ["is that a number"]),
    ("beans, 4 lb, 7pt1hp", "bought 4 lb; 7 pint + 1 half-pint", []),
    ("beans, 4 lb, 7pt + 1hp", "bought 4 lb; 7 pint + 1 half-pint", []),
    ("beets, 12 lb, 7 pints and a half", "bought 12 lb; 7.5 pint", []),
    # What tells of a sort of jar, or of each, measures nothing.
    ("okra, 4 lb, 7 pts, in pint jars, clove of garlic to the pint", "bought 4 lb; 7 pint", []),
    ("okra, 4 lb, 7 pts, clove of garlic in each pint, half with dill", "bought 4 lb; 7 pint", []),
    ("okra, 4 lb, 7 pts, 1/4 c salt per quart", "bought 4 lb; 7 pint", []),
    ("okra, 4 lb, 7 pts, filled to the last pint", "bought 4 lb; 7 pint", []),
]  # fmt: skip
OTHER_JARS = [
    ("okra, 4 lb, 12 pts, gave 3 pts to Oda", "bought 4 lb; 12 pint", ["3 pts"]),
    ("dilly beans 5#, 9 pts, took 2 pts to Oda", "bought 5 lb; 9 pint", ["2 pts"]),
    ("beets 12 lb, 14 pts, 4 pts for Oda", "bought 12 lb; 14 pint", ["4 pts"]),
    ("beets 12 lb; 14 pts; Oda's share 4 qts", "bought 12 lb; 14 pint", ["4 qts"]),
    ("okra 4 lb, 8 pts; helped Pim with 6 qts", "bought 4 lb; 8 pint", ["6 qts"]),
    ("okra 4 lb, 8 pts, sold 2 qts of last year's", "bought 4 lb; 8 pint", ["2 qts"]),
    ("okra, 4 lb, 8 pts, ate 1 pint same day", "bought 4 lb; 8 pint", ["1 pint"]),
    ("okra 4 lb, 8 pts, tasted a pint", "bought 4 lb; 8 pint", ["1 pint"]),
    ("okra 4 lb, 8 pts, opened 1 qt", "bought 4 lb; 8 pint", ["1 qt"]),
    ("okra 4 lb, 8 pts, broke 1 qt", "bought 4 lb; 8 pint", ["1 qt"]),
    ("okra 4 lb, 8 pts and 1 pt in the fridge", "bought 4 lb; 8 pint", ["1 pt"]),
    ("okra 4 lb, 8 pts, 1 qt refrigerator pickles", "bought 4 lb; 8 pint", ["1 qt"]),
    ("okra 4lb, 8 pts, brine 8 c, left in fridge 2 pts",
     "bought 4 lb; 8 pint; made 8 c", ["2 pts"]),
    ("okra 4 lb, 8 pts, gave 3 away, 5 pts left", "bought 4 lb; 8 pint", ["is 3", "5 pts"]),
    ("okra 4 lb, 12 pts, 10 c brine, gave 3 away, 9 left",
     "bought 4 lb; 12 pint; made 10 c", ["is 3", "is 9"]),
    ("okra, 4 lb, 8 pts, added 1 pint peppers", "bought 4 lb; 8 pint", ["1 pint"]),
    ("okra 4 lb, 8 pts, 2 qts spiced peaches", "bought 4 lb; 8 pint", ["2 qts"]),
    ("okra 4 lb, 8 pts; beans 5 lb, 10 qts", "bought 4 lb; 8 pint", ["5 lb", "10 qts"]),
    ("12 pints of carrots and 3 quarts of beets", "", ["12 pints", "3 quarts", "how many jars"]),
    ("okra 4 lb, 8 pts, made 2 pts chow chow too", "bought 4 lb; 8 pint", ["jars or brine"]),
    ("okra 2 qts picked, 5 pts", "5 pint", ["2 qts"]),
    ("okra 4 lb, washed 10 qts, filled 8 pts", "bought 4 lb; 8 pint", ["10 qts"]),
    ("okra 4 lb, 8 pts, had 10 pts ready", "bought 4 lb; 8 pint", ["10 pts"]),
]  # fmt: skip
NOT_THIS_BATCH = [
    ("okra, 4 lb, recipe says 7 pts, got 9 pts", "bought 4 lb; 9 pint", ["7 pts"]),
    ("okra, 4 lb, 8 pts (recipe makes 7 pints)", "bought 4 lb; 8 pint", ["7 pints"]),
    ("okra 4 lb, doubled the recipe (makes 4 qts) and got 8 pts",
     "bought 4 lb; 8 pint", ["4 qts"]),
    ("okra 4 lb by my dill okra recipe, 8 pts", "bought 4 lb; 8 pint", []),
    ("okra 4 lb, 8 pts, last year 12 qts", "bought 4 lb; 8 pint", ["12 qts"]),
    ("okra 4 lb, 8 pts, 2 pts less than last year", "bought 4 lb; 8 pint", ["2 pts"]),
    ("okra 4 lb, 8 pts, should be 3 qts by the book", "bought 4 lb; 8 pint", ["3 qts"]),
    ("okra 4 lb, 8 pts, next time make 10 c brine", "bought 4 lb; 8 pint", ["10 c"]),
    ("okra 4 lb, room for 2 qts more, 8 pts", "bought 4 lb; 8 pint", ["2 qts"]),
    ("okra, 4 lb, 8 pts, 2 loads of 4 pts", "bought 4 lb; 8 pint", ["is 2", "4 pts"]),
    ("okra 4lb, two canners of 7 pts", "bought 4 lb", ["7 pts", "how many jars"]),
    ("okra 4 lb, 7 pts per canner, 14 pts in all", "bought 4 lb; 14 pint", ["7 pts"]),
    ("okra, 4 lb, 8 pts NO 9 pts", "bought 4 lb; 9 pint", []),
    ("okra 4 lb, 8 pts, sorry 9 pts", "bought 4 lb; 9 pint", []),
    ("okra 4 lb, 8 pts -> 9 pts", "bought 4 lb; 8 pint", ["said twice"]),
    ("okra 4 lb, 8 pts (recount: 9 pts)", "bought 4 lb; 8 pint", ["9 pts"]),
    ("okra 4 lb, 9 pts, not 8 pts", "bought 4 lb; 9 pint", ["8 pts"]),
    ("okra 4 lb, 8 or 9 pts", "bought 4 lb", ["is 8", "9 pts", "how many jars"]),
    ("okra 4 lb, 8 pts today, 12 qts altogether", "bought 4 lb; 8 pint", ["12 qts"]),
    ("beans 8 lb, 14 pts about 7 qts", "bought 8 lb; 14 pint", ["7 qts"]),
    ("beans 8 lb, 14 pts = 7 qts", "bought 8 lb; 14 pint", ["7 qts"]),
    ("beans 8 lb, 14 pts, 7 qt canner", "bought 8 lb; 14 pint", ["7 qt"]),
    ("beans 8 lb, 14 pts, labels for 20 qts", "bought 8 lb; 14 pint", ["20 qts"]),
    ("okra 4 lb, 8 pts (2 wide pts)", "bought 4 lb; 8 pint", ["2 wide pts"]),
    ("okra 4 lb, 5 pts hot, 3 pts mild", "bought 4 lb; 5 pint", ["3 pts"]),
    ("okra 4 lb, 5 pts Oda, 3 qts Pim", "bought 4 lb", ["5 pts", "3 qts", "how many jars"]),
    ("okra 4 lb, 8 pts ~~7 pts~~", "bought 4 lb; 8 pint", []),
]  # fmt: skip
WEIGHTS_AND_SALT = [
    ("carrot sticks, 10 lb, peeled off 2 lb, 14 pts", "bought 10 lb; trimmed 8 lb; 14 pint", []),
    ("carrot sticks, 10 lb, 2 lb peelings, 14 pts", "bought 10 lb; trimmed 8 lb; 14 pint", []),
    ("carrot sticks, peeled off 2 lb, 14 pts", "14 pint", ["2 lb was taken off"]),
    ("okra 3 1/2lb trimmed to 3lb, 8pts", "bought 3.5 lb; trimmed 3 lb; 8 pint", []),
    ("okra 4 lb before trimming, 3.5 after trimming, 8 pts",
     "bought 4 lb; trimmed 3.5 lb; 8 pint", []),
    ("carrots 10 lb, tops cut off 8 lb, 14 pts", "bought 10 lb; 14 pint", ["8 lb"]),
    ("corn 40 lb, 12 lb cut off the cob, 14 pts", "bought 40 lb; 14 pint", ["12 lb"]),
    ("broken beans 4 lb washed, 8 pts", "bought 4 lb; 8 pint", []),
    ("extra short carrots 8 lb, 9 pts", "bought 8 lb; 9 pint", []),
    ("okra 4 lb not trimmed, 8 pts", "bought 4 lb; 8 pint", []),
    ("okra 4 lb, trim loss 10 oz, 8 pts", "bought 4 lb; 8 pint", ["10 oz"]),
    ("cukes 10 lb less 1 lb bad ones, 9 qts", "bought 10 lb; 9 quart", ["1 lb"]),
    ("okra, left 1 lb for supper, 3 lb trimmed, 8 pts", "trimmed 3 lb; 8 pint", ["1 lb"]),
    ("okra 4 lb, 8 pts, 1 lb okra left over", "bought 4 lb; 8 pint", ["1 lb"]),
    ("okra 4 lb, 8 pts, 2 c okra left", "bought 4 lb; 8 pint", ["2 c"]),
    ("okra 4 lb, 8 pts, 1 lb did not fit", "bought 4 lb; not jarred 1 lb; 8 pint", []),
    ("okra, six and a half pounds, 12 pints", "bought 6.5 lb; 12 pint", []),
    ("okra, a pound and a half, 3 pints", "bought 1.5 lb; 3 pint", []),
    ("okra two pounds and three quarters, 5 pts", "bought 2.75 lb; 5 pint", []),
    ("okra twenty-two pounds, a dozen qts, three quarters of a cup left",
     "bought 22 lb; 12 quart; left 0.75 c", []),
    ("green beans, 2x 3 lb bags, 12 pints", "bought 6 lb; 12 pint", []),
    ("green beans, two 5-lb bags, 12 pints", "bought 10 lb; 12 pint", []),
    ("green beans, 2 bags, 3 lb each, 12 pints", "bought 6 lb; 12 pint", []),
    ("okra 4 lb @ $1.29 per lb, 8 pts", "bought 4 lb; 8 pint", []),
    ("okra 4lb, 8 pts; 1 c salt in 1 gal brine, 3 c left",
     "bought 4 lb; 8 pint; made 16 c; left 3 c", []),
    ("okra 4lb, 8 pts, 2 tsp salt per pint", "bought 4 lb; 8 pint", []),
    ("okra 4lb, 8 pts, 1 tsp salt in each jar", "bought 4 lb; 8 pint", []),
    ("green beans 6 lb, 4 c vinegar 4 c water 1/4 cup salt, 9 pints",
     "bought 6 lb; 9 pint", ["all the brine"]),
    ("peppers 5 lb, 3 c vinegar, 3 c water, 2 tbsp salt, 8 pts",
     "bought 5 lb; 8 pint", ["all the brine", "2 tbsp salt in the brine"]),
    ("cukes 6 lb, 1/2 c salt, stood 3 h, rinsed 5 lb, 6 pts",
     "bought 6 lb; drained 5 lb; salt 1/2 c salt; 3 h; 6 pint", []),
    ("cukes 6 lb, 3 c vinegar 3 c water, salted with 1/2 c salt 3 h, 6 pts, 6 c brine",
     "bought 6 lb; salt 1/2 c salt; 3 h; 6 pint; made 6 c", []),
    ("okra, 1.500 g, 3 pints, 1.250 ml brine", "3 pint", ["1500", "1250"]),
    ("okra, 1,500 g, 3 pints, 1,250 ml brine", "3 pint", ["1500", "1250"]),
    ("okra 1.250 kg, 3 pints, 1.500 l brine", "bought 2.756 lb; 3 pint; made 6.34 c", []),
    ("okra 3 pints, 2000 ml brine, 1.500 left", "3 pint; made 8.454 c", ["1500"]),
    ("cucumber slices + onions: 6 lb cukes & 2 lb onions, 9 pts", "bought 8 lb; 9 pint", []),
    ("cukes 6 lb & onions 2 lb, 9 pts", "bought 8 lb; 9 pint", []),
    ("cukes 6 lb, added 2 lb onions, 9 pts", "bought 6 lb; 9 pint", ["2 lb"]),
    ("cauliflower, carrots & celery: 3 lb + 2 lb + 1 lb, 9 pts", "bought 6 lb; 9 pint", []),
]  # fmt: skip
BRINE_AND_COUNTS = [
    ("okra 4 lb, 8 pts, 10 c brine, ran out", "bought 4 lb; 8 pint; made 10 c; left 0 c", []),
    ("okra 4 lb, 8 pts, 10 c brine; all used", "bought 4 lb; 8 pint; made 10 c; left 0 c", []),
    ("okra 4 lb, 8 pts, 10 c brine all used up", "bought 4 lb; 8 pint; made 10 c; left 0 c", []),
    ("okra 4 lb, 8 pts, 10 c brine, ran out, made 2 c more",
     "bought 4 lb; 8 pint; made 12 c", ["how much brine was left"]),
    ("okra 4 lb, 8 pts, 10 c brine, ran out of lids", "bought 4 lb; 8 pint; made 10 c", []),
    ("okra 4 lb, 8 pts, ran out", "bought 4 lb; 8 pint", []),
    ("okra 4 lb, 8 pts, 8 c brine left 1", "bought 4 lb; 8 pint; made 8 c; left 1 c", []),
    ("okra 4 lb 8 pts brine 6 1/2 cups left 1/2 cup",
     "bought 4 lb; 8 pint; made 6.5 c; left 0.5 c", []),
    ("okra 4 lb, 8 pts, used 6 cups brine", "bought 4 lb; 8 pint", ["6 cups was used"]),
    ("okra 4 lb, 8 pts, used 6 c brine, 4 c left",
     "bought 4 lb; 8 pint; made 10 c; left 4 c", []),
    ("okra 4 lb, 8 pts, brine used 6 c of the 8 c made", "bought 4 lb; 8 pint; made 8 c", []),
    ("okra 4 lb, 8 pts, 2 qts brine + 1 qt more", "bought 4 lb; 8 pint; made 8 c", ["1 qt"]),
    ("okra 4 lb, 8 pts, brine 2 qt plus 1 pt", "bought 4 lb; 8 pint; made 10 c", []),
    ("okra 4 lb, 8 pts, kept 1 qt brine", "bought 4 lb; 8 pint; left 4 c", []),
    ("beans 8 lb, 14 pts, brine in a 2 gal pot", "bought 8 lb; 14 pint", ["2 gal"]),
    ("beans 8 lb, 14 pts, 9 c brine, 1 c left in pot",
     "bought 8 lb; 14 pint; made 9 c; left 1 c", []),
    ("beans 8 lb, 14 pts, 2 x 9 c brine", "bought 8 lb; 14 pint; made 18 c", []),
    ("beans 8 lb, 14 pts, brine 9 c twice", "bought 8 lb; 14 pint", ["9 c"]),
    ("beans 8 lb, 14 pts, brine enough for 3 qts", "bought 8 lb; 14 pint", ["3 qts"]),
    ("beans 8 lb 14 pts 2 qt jars", "bought 8 lb; 14 pint + 2 quart", []),
    ("okra 4 lb, 9 pts over two days", "bought 4 lb; 9 pint", ["2 days"]),
    ("okra 4 lb, 8 pts, 2 not sealed", "bought 4 lb; 8 pint", ["is 2"]),
    ("okra 4 lb, 8 pts, all but 1 sealed", "bought 4 lb; 8 pint", ["is 1"]),
    ("okra 4 lb, 8 pts, 7/8 sealed", "bought 4 lb; 8 pint; sealed 7", []),
    ("okra 4 lb, 20 pts, sealed: 19/20", "bought 4 lb; 20 pint; sealed 19", []),
    ("okra 4 lb, 8/7 pts", "bought 4 lb", ["8/7 pts", "how many jars"]),
    ("okra 4 lb, 7 3/4 pts", "bought 4 lb; 7.75 pint", []),
    ("okra 4 lb, 8 pts, 7 of 8 sealed", "bought 4 lb; 8 pint; sealed 7", []),
    ("cucumber 3 qts sliced, 5 pts", "trimmed 12 c; 5 pint", []),
    ("beets 5 qts whole, 3 pts sliced", "5 quart + 3 pint", []),
    ("beets 9 pts sliced", "9 pint", []),
    ("okra, 6# 4oz, pts 7, qts: 2, brine - 9 c", "bought 6.25 lb; 7 pint + 2 quart; made 9 c", []),
    ("okra 4 lb, 1/2 pts: 16, 8 c brine", "bought 4 lb; 16 half-pint; made 8 c", []),
    ("okra 4 lb, 2 doz half pints", "bought 4 lb; 24 half-pint", []),
    ("cukes 20 lb, 14 quarts 1 pint, brine 2 1/2 gal (1 qt left)",
     "bought 20 lb; 14 quart + 1 pint; made 40 c; left 4 c", []),
    ("okra 4 lb 8 pints 2 quarts 9 cups brine 1 cup left",
     "bought 4 lb; 8 pint + 2 quart; made 9 c; left 1 c", []),
    ("okra 4 lbs., 8 pts., 2 qts. brine, 1 c. left",
     "bought 4 lb; 8 pint; made 8 c; left 1 c", []),
    ("okra 4 lb, 5 hp", "bought 4 lb; 5 half-pint", []),
    ("okra 4 lb, 6 pts, 2 wide pts, 1 qt", "bought 4 lb; 6 pint + 2 pint-wide + 1 quart", []),
    ("okra 4 lb, 8 pts + 3 pts from second picking", "bought 4 lb; 8 pint + 3 pint", []),
    ("carrots 10lb->8lb trimmed->14 pts, 3.5 qt brine (2 c left)",
     "bought 10 lb; trimmed 8 lb; 14 pint; made 14 c; left 2 c", []),
    ("Carrots - 10 lbs. Peeled to 8 lbs 4 oz. 14 pints. 3 1/2 quarts brine; 1 cup left.",
     "bought 10 lb; trimmed 8.25 lb; 14 pint; made 14 c; left 1 c", []),
    ("okra 4 lb - 8 pts - 7 c brine - 1 c left",
     "bought 4 lb; 8 pint; made 7 c; left 1 c", []),
    ("okra 4lb/8pts/7c brine", "bought 4 lb; 8 pint; made 7 c", []),
    ("okra 10 lb - 8 lb trimmed, 9 pts", "9 pint", ["two weights"]),
    ("okra 4 lb, 8 pts and 2 more pts", "bought 4 lb; 8 pint + 2 pint", []),
    ("okra 4 lb, 8 pts for Christmas gifts", "bought 4 lb; 8 pint", []),
    ("okra 4 lb, 12 pts, 2 qts gifts", "bought 4 lb; 12 pint", ["2 qts"]),
    ("we put up 8 pts of okra from 4 lb, brine 9 c", "bought 4 lb; 8 pint; made 9 c", []),
    ("okra 2 kg, 6 x 500ml, 1.2 l brine, 200ml left",
     "bought 4.409 lb; 6 500ml; made 5.072 c; left 0.8454 c", []),
]  # fmt: skip
ALL = (
    PARTS_OF_BRINE
    + LAST_AND_LABELS
    + POTS_AND_OVER
    + SAID_OTHERWISE
    + NUMBERLESS
    + OTHER_JARS
    + NOT_THIS_BATCH
    + WEIGHTS_AND_SALT
    + BRINE_AND_COUNTS
)


@pytest.mark.parametrize(("text", "due", "asked"), ALL, ids=[text for text, _, _ in ALL])
def test_a_line_comes_to_what_its_reader_makes_of_it(text: str, due: str, asked: list[str]) -> None:
    line = read_line(text)
    assert figures(line) == due
    assert len(line.asked) == len(asked), line.asked
    for words, (part, why) in zip(asked, line.asked, strict=True):
        assert words in f"{part}: {why}"


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("okra 4 lb, 8 pts NO 9 pts", "9 pts taken in place of 8 pts"),
        ("okra 4 lb, 8 pts, brine: 1 qt vinegar, 1 qt water", "brine made taken as 1 qt + 1 qt"),
        ("carrots 10 lb, peeled off 2 lb, 14 pts", "trimmed taken as 10 lb - 2 lb"),
        ("beans 2x 3 lb bags, 12 pts", "2x 3 lb taken as 6 lb"),
        ("okra 8 pts, used 6 c brine, 4 c left", "brine made taken as 6 c used + 4 c left"),
        ("cucumber 3 qts sliced, 5 pts", "3 qts sliced taken as trimmed"),
        ("cukes 6 lb & onions 2 lb, 9 pts", "6 lb + 2 lb taken as bought"),
    ],
)
def test_what_is_reckoned_from_a_line_is_told(text: str, words: str) -> None:
    assert any(words in told for told in read_line(text).taken), read_line(text).taken


def test_what_is_asked_stays_whole_in_the_note() -> None:
    line = read_line("okra 4 lb, 12 pts, gave 3 pts to Oda, 1/4 c mustard seed")
    assert line.cells["note"] == "gave 3 pts to Oda; 1/4 c mustard seed"


def test_an_answer_that_joins_the_count_adds_it() -> None:
    """The question names the words that answer it."""
    text = "okra 4 lb, 8 pts, 4 pts for Oda"
    ((part, why),) = read_line(text).asked
    assert "Write '+ 4 pts' if so" in why
    mended = read_line(text.replace(part, "+ 4 pts"))
    assert (figures(mended), mended.asked) == ("bought 4 lb; 8 pint + 4 pint", ())


@pytest.mark.parametrize(
    ("text", "produce", "cut"),
    [
        ("cucumber slices + onions: 9 pts", "cucumber + onions", "slices"),
        ("cukes & onions, 9 pts", "cukes & onions", ""),
        ("cauliflower, carrots & celery: 9 pts", "cauliflower + carrots + celery", ""),
        ("bread & butter pickles: 6 lb cukes, 8 pts", "bread & butter pickles", ""),
        ("(rainy) - okra 4 lb, 8 pts", "okra", ""),
        ("okra 4 lb = 8 pts = 2 qt brine", "okra", ""),
        ("beets 12 lb with tops, 9 pts", "beets", ""),
    ],
)
def test_a_crop_and_a_mixture_are_named(text: str, produce: str, cut: str) -> None:
    cells = read_line(text).cells
    assert (cells["produce"], cells.get("cut", "")) == (produce, cut)


CONTAINERS = {
    "half bushel": "1/2 bushel", "bushel": "1 bushel", "bushel and a half": "1 1/2 bushel",
    "bu": "1 bu", "half bu": "1/2 bu", "half peck": "1/2 peck", "peck": "1 peck",
    "2 half bushels": "2 half bushels",
}  # fmt: skip


@pytest.mark.parametrize("said", CONTAINERS)
def test_a_container_without_a_number_is_one(said: str) -> None:
    assert read_line(f"okra, {said}, 7 pts").cells["as_bought"] == CONTAINERS[said]


@pytest.mark.parametrize("mark", ["ditto", "do", "same again", '" "'])
def test_a_mark_for_the_crop_above_is_no_crop_where_nothing_is_above(mark: str) -> None:
    line = read_line(f"{mark} 5 lb, 9 pts")
    assert "produce" not in line.cells
    assert "what did you put up" in line.asked[-1][1]
