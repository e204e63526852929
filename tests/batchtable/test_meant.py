"""What a heading means: all of its words must fit, as a cook who reads it would have it."""

import pytest

from jarcast.batchtable.meant import meaning

# What each plainly says: the column, and the unit or sort of jar in it.
PLAIN = {
    "Weight (lbs)": "as_bought:lbs", "Wt": "as_bought", "lbs of veg": "as_bought:lbs",
    "Lb in": "as_bought:lb", "Garden lb": "as_bought:lb", "Gross lb": "as_bought:lb",
    "Kilos picked": "as_bought:kilos", "Weight before peeling (lb)": "as_bought:lb",
    "Came in": "as_bought", "# bought": "as_bought:lb", "As-bought weight (g)": "as_bought:g",
    "lb out": "trimmed:lb", "Trim wt.": "trimmed", "Net weight lb": "trimmed:lb",
    "Peeled & cored (lb)": "trimmed:lb", "After coring": "trimmed", "Trimmed (g)": "trimmed:g",
    "Topped & tailed, oz": "trimmed:oz", "Ends trimmed, cleaned (kg)": "",
    "After the salt": "cured", "After salting & draining (lb)": "cured:lb",
    "Salted weight lb": "cured:lb", "Squeezed lb": "cured:lb", "Wt after soaking": "cured",
    "Boiled lb": "cooked:lb", "After blanching (kg)": "cooked:kg",
    "Salt lbs": "salt:lbs", "Salt (tsp)": "salt:tsp", "Oz salt": "salt:oz",
    "Pickling salt, c": "salt:c", "Kosher salt (g)": "salt:g",
    "Hrs salted": "cure_hours", "Days in salt": "cure_hours:days",
    "Soak time (min)": "cure_hours:min",
    "Brine (pt)": "brine_made:pt", "Liquid mixed": "brine_made", "Qts brine": "brine_made:qts",
    "Brine used (c)": "brine_used:c", "Brine poured (ml)": "brine_used:ml",
    "Brine leftover c": "brine_left:c", "Liquid over": "brine_left",
    "Peelings lb": "trimmings:lb", "lbs trimmed off": "trimmings:lbs",
    "Pts": "jars:pint", "Pint yield": "jars:pint", "Yield (qt)": "jars:quart", "# jars": "jars",
    "\u00bd pts": "jars:half-pint", "1 1/2 pints": "jars:pint-and-half", "16 oz": "jars:pint",
    "Pints and a half": "jars:pint-and-half", "Half pts": "jars:half-pint",
    "Pints (wide mouth)": "jars:pint-wide", "hp jars": "jars:half-pint", "Put up": "jars",
    "Pts made": "jars:pint", "Jar total": "jars", "Jars (0,5 l)": "jars:500ml",
    "Lids popped": "sealed", "Qts sealed": "sealed:quart", "Sealed?": "sealed",
    "Headspace (cm)": "headspace_in:cm", "Not jarred (lb)": "not_jarred:lb",
    "Pint(s)": "jars:pint", "No.of jars": "jars", "Note(s)": "note", "Grams": "as_bought:grams",
    "Date (mm/dd/yyyy)": "date", "Wt.(lb)": "as_bought:lb",
    "Jar size": "jar", "Hot/raw": "pack", "Produce, cut": "produce", "Kind of pickle": "produce",
    "Bushels": "as_bought:bushels", "Pecks picked": "as_bought:pecks",
    "2nd pot (c)": "brine_more:c", "More brine (c)": "brine_more:c",
    "Brine (L) used": "brine_used:l",
    "Brine 1 (c)": "brine_made:c", "Brine 2 (c)": "brine_more:c", "1st pot (qt)": "brine_made:qt",
    "Failed seals": "unsealed", "Last jar": "last_jar", "Partial": "part_full", "Packers": "person",
    "500s": "jars:500ml", "Actual jars": "jars",
    "Packed by": "person", "Date canned": "date", "Scribbles": "note", "Recipe used": "recipe",
}  # fmt: skip
# What says something else, or may: nothing of it is summed.
ELSE = (
    "Pts given away", "Pints given to Oda", "Pts sold", "Pints eaten", "Pts broken", "Pints lost",
    "Pts in fridge", "Planned pints", "Pints expected", "Pints wanted", "Recipe yield (pints)",
    "Pints from recipe", "Recipe pts", "lb per pint", "Pints/batch", "Pint boxes", "Pint lids",
    "Pints left", "Pints on shelf", "Empty pints", "Pints to make", "Pts for the stall",
    "Est. pints",
    "Water (qt)", "Vinegar (pts)", "Pints/quarts", "Made (pt)", "Jars broken", "Jars sold",
    "Weight of jars", "Jar weight (g)", "Failed pints", "Unsealed pints", "Pints short",
    "Lbs wasted", "Culls (lb)", "Wt. lost (lb)", "Tare (lb)", "Not used lb", "Compost lb",
    "lbs/jar", "lb/pint", "Ready lb", "To jars (lb)", "lb to buy", "Lbs sold", "Lb frozen",
    "Weight with bowl", "Onions lb", "Target weight (lb)", "Lbs ordered", "Avg lb", "Trimmed %",
    "Brine thrown out (c)", "Brine short (c)", "Brine needed (c)", "Brine per jar (c)",
    "Extra brine (c)", "Brine %", "Brine temp", "Salt in brine (g)", "Salt per qt", "Salt %",
    "Kosher salt (c)", "Not sealed", "% sealed", "Best by", "Use by", "Sold by", "Date planted",
    "Date eaten", "Hours worked", "Process min", "Cook time (min)", "Batch size", "Lid size",
    "Crate weight (lb)", "lbs/bushel", "Bushels left", "Half bushels",
    "Price per lb", "$/lb", "Pint price", "weather left", "Jars in cellar",
)  # fmt: skip


@pytest.mark.parametrize("heading", PLAIN)
def test_a_heading_means_what_it_plainly_says(heading: str) -> None:
    read = meaning(heading)
    assert ":".join(filter(None, (read.name, read.unit))) == PLAIN[heading]


@pytest.mark.parametrize("heading", ELSE)
def test_a_heading_with_a_word_that_does_not_fit_means_nothing(heading: str) -> None:
    assert meaning(heading).name == ""


@pytest.mark.parametrize(
    ("heading", "word"),
    [("Pts given away", "given away"), ("Lbs wasted", "wasted"), ("Not sealed", "not")],
)
def test_the_word_that_does_not_fit_is_told(heading: str, word: str) -> None:
    assert f"'{word}'" in meaning(heading).why


@pytest.mark.parametrize("heading", ["Left", "Over (cups)", "Hours"])
def test_a_word_alone_that_needs_others_beside_it_is_loose(heading: str) -> None:
    assert meaning(heading).loose
