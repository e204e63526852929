"""The vocabulary forgives spelling, and the jars hold what geometry says they hold."""

import math
import re

import pytest
from hypothesis import given
from hypothesis import strategies as st

from jarcast.domain.jar_text import read_jars, turns_text
from jarcast.domain.jars import SHELF, Jar, folded_jar, gap_volume_ml, jar_key, jar_list, so_many
from jarcast.domain.names import cut_key, makes_its_own_brine, pack_key, produce_key
from jarcast.errors import BatchError

# Jars

# The names that the batch table's contract gives; each also with -wide for a wide mouth.
SIZES = ("half-pint", "12-oz", "pint", "pint-and-half", "quart", "250ml", "500ml", "1l")


def test_the_shelf_has_the_contract_s_jars_with_both_mouths() -> None:
    assert set(SHELF) == {*SIZES, *(f"{size}-wide" for size in SIZES)}
    for key, jar in SHELF.items():
        assert jar.key == key
        assert jar.wide is key.endswith("-wide")


@pytest.mark.parametrize(
    ("spelt", "due"),
    [
        ("pint", "pint"), ("Pints", "pint"), ("  PINT ", "pint"), ("pint jars", "pint"),
        ("Mason pint jar", "pint"), ("regular-mouth pint", "pint"), ("1 pt.", "pint"),
        ("16 oz", "pint"), ("16-ounce", "pint"), ("16 fl. oz.", "pint"), ("ｐｉｎｔ", "pint"),
        ("pint-wide", "pint-wide"), ("wide-mouth pint", "pint-wide"), ("WM pints", "pint-wide"),
        ("pint, wide mouth", "pint-wide"), ("Pints (wide mouth)", "pint-wide"),
        ("pints_wide", "pint-wide"), ("widemouthed pint jars", "pint-wide"),
        ("half-pint", "half-pint"), ("Half Pints", "half-pint"), ("½ pint", "half-pint"),
        ("1/2 pt", "half-pint"), ("8oz", "half-pint"), ("8-oz wide mouth", "half-pint-wide"),
        ("12-oz", "12-oz"), ("12 ounces", "12-oz"), ("12oz jar", "12-oz"), ("¾ pint", "12-oz"),
        ("pint-and-half", "pint-and-half"), ("pint and a half", "pint-and-half"),
        ("pint & a half", "pint-and-half"), ("1½ pint", "pint-and-half"),
        ("1 1/2 pints", "pint-and-half"), ("1.5 pt", "pint-and-half"), ("24 oz", "pint-and-half"),
        ("1,5 pints", "pint-and-half"),
        ("quart", "quart"), ("qts", "quart"), ("1 qt", "quart"), ("32 oz.", "quart"),
        ("quart jars, wide", "quart-wide"),
        ("250ml", "250ml"), ("250 mL", "250ml"), ("¼ l", "250ml"), ("0,25 l", "250ml"),
        ("500 ml", "500ml"), ("500 millilitres", "500ml"), ("half a litre", "500ml"),
        ("half-liter", "500ml"), ("0.5 L", "500ml"), ("½-litre", "500ml"),
        ("1l", "1l"), ("1 L", "1l"), ("litre", "1l"), ("1 liter jars", "1l"), ("1000 ml", "1l"),
        ("1l-wide", "1l-wide"),
    ],
)  # fmt: skip
def test_a_jar_is_known_in_many_spellings(spelt: str, due: str) -> None:
    assert jar_key(spelt) == due


@pytest.mark.parametrize("key", SHELF)
def test_a_key_is_its_own_name(key: str) -> None:
    assert jar_key(key) == key
    assert jar_key(key.upper()) == key
    assert jar_key(key.replace("-", " ")) == key


@pytest.mark.parametrize(
    "text", ["", "wide", "bucket", "2 pints", "half gallon", "11/2 pint", "🫙"]
)
def test_a_jar_that_is_not_on_the_shelf_is_refused_with_those_that_are(text: str) -> None:
    with pytest.raises(BatchError) as caught:
        jar_key(text)
    for key in SHELF:
        assert key in str(caught.value)


def test_a_refusal_tells_how_a_jar_of_one_s_own_becomes_known() -> None:
    with pytest.raises(BatchError, match="'jarcast kitchen jars add'"):
        jar_key("tall")


@pytest.mark.parametrize(
    ("spelt", "due"),
    [
        ("Tall jar", "tall"), ("tall_jars", "tall"), ("Wide tall", "tall-wide"),
        ("tall, wide mouth", "tall-wide"), ("aunt\u2019s", "aunt's"), ("Pints", "pint"),
        ("", ""),
    ],
)  # fmt: skip
def test_names_fold_alike_whether_there_is_such_a_jar_or_not(spelt: str, due: str) -> None:
    assert folded_jar(spelt) == due


@pytest.mark.parametrize("key", SHELF)
def test_the_name_of_a_built_in_jar_folds_to_itself(key: str) -> None:
    assert folded_jar(key) == key


def test_a_refusal_stays_short() -> None:
    with pytest.raises(BatchError) as caught:
        jar_key("x" * 100_000)
    assert len(str(caught.value)) < 500


def test_a_jar_of_one_s_own_is_found_by_its_name() -> None:
    shelf = {**SHELF, "Gran's crock": Jar("Gran's crock", 1850.0, 90.0)}
    assert jar_key(" Gran's crock ", shelf) == "Gran's crock"
    assert jar_key("pints", shelf) == "pint"


@given(st.text())
def test_no_text_meets_anything_but_a_jar_or_a_refusal(text: str) -> None:
    try:
        key = jar_key(text)
    except BatchError:
        return
    assert key in SHELF


def test_several_jars_are_written_with_a_plus() -> None:
    assert jar_list(("pint-wide", "pint")) == "pint-wide + pint"


# Volumes

FL_OZ_ML = 29.5735295625  # exact: NIST Handbook 44, Appendix C (231 cubic inches over 128)


@pytest.mark.parametrize(
    ("key", "fluid_ounces"),
    # Standard US Mason jar sizes (AIB 539, Guide 1, lists the same, from memory).
    [("half-pint", 8), ("12-oz", 12), ("pint", 16), ("pint-and-half", 24), ("quart", 32)],
)
def test_us_jars_hold_their_fluid_ounces(key: str, fluid_ounces: int) -> None:
    assert SHELF[key].capacity_ml == pytest.approx(fluid_ounces * FL_OZ_ML, rel=1e-12)
    assert SHELF[f"{key}-wide"].capacity_ml == SHELF[key].capacity_ml


@pytest.mark.parametrize(("key", "ml"), [("250ml", 250.0), ("500ml", 500.0), ("1l", 1000.0)])
def test_metric_jars_hold_what_they_are_called_by(key: str, ml: float) -> None:
    assert SHELF[key].capacity_ml == ml


# Headspace as a cylinder of the neck's bore, in ml, worked out by hand: pi / 4 x 6.0 cm squared x
# 0.635 cm is 17.95 ml, and so on. The bores, 60 and 76 mm, are from memory.
@pytest.mark.parametrize(
    ("key", "inches", "headspace_ml"),
    [
        ("pint", 0.25, 18.0),
        ("pint", 0.5, 35.9),
        ("pint", 1.0, 71.8),
        ("pint-wide", 0.25, 28.8),
        ("pint-wide", 0.5, 57.6),
        ("pint-wide", 1.0, 115.2),
    ],
)
def test_headspace_takes_the_volume_of_the_neck(
    key: str, inches: float, headspace_ml: float
) -> None:
    jar = SHELF[key]
    assert jar.capacity_ml - jar.fill_volume_ml(inches) == pytest.approx(headspace_ml, abs=0.06)
    assert gap_volume_ml(jar.bore_mm, inches) == pytest.approx(headspace_ml, abs=0.06)


def test_usable_volume_of_a_pint_in_cups() -> None:
    # 473.2 ml less 36 ml of headspace is 437 ml, 1.85 US cups; with a wide mouth 416 ml, 1.76.
    cup_ml = 8 * FL_OZ_ML
    assert SHELF["pint"].fill_volume_ml(0.5) / cup_ml == pytest.approx(1.85, abs=0.005)
    assert SHELF["pint-wide"].fill_volume_ml(0.5) / cup_ml == pytest.approx(1.76, abs=0.005)


def test_headspace_is_half_an_inch_unless_it_is_said() -> None:
    # What nearly all published pickle recipes ask for, raw and hot packs alike.
    for jar in SHELF.values():
        assert jar.fill_volume_ml() == jar.fill_volume_ml(0.5)


@given(st.sampled_from(list(SHELF.values())), st.floats(0.0, 3.0), st.floats(0.0, 3.0))
def test_more_headspace_never_holds_more_and_no_jar_holds_nothing(
    jar: Jar, one: float, other: float
) -> None:
    less, more = sorted((one, other))
    assert 0.0 < jar.fill_volume_ml(more) <= jar.fill_volume_ml(less) <= jar.capacity_ml
    assert jar.fill_volume_ml(0.0) == jar.capacity_ml


@given(st.floats(50.0, 5000.0), st.floats(20.0, 120.0), st.floats(0.0, 1.0))
def test_headspace_grows_with_the_square_of_the_bore(
    capacity: float, bore: float, inches: float
) -> None:
    jar, twice = Jar("one", 1e6 + capacity, bore), Jar("two", 1e6 + capacity, 2.0 * bore)
    gap = jar.capacity_ml - jar.fill_volume_ml(inches)
    assert twice.capacity_ml - twice.fill_volume_ml(inches) == pytest.approx(4.0 * gap, abs=1e-6)
    assert gap == pytest.approx(math.pi * bore**2 / 400.0 * inches * 2.54, abs=1e-6)


# Produce


@pytest.mark.parametrize(
    ("typed", "due"),
    [
        ("Carrots", "carrot"), ("  carrot ", "carrot"), ("CARROT", "carrot"),
        ("tomatoes", "tomato"), ("green tomatoes", "green tomato"), ("cherries", "cherry"),
        ("radishes", "radish"), ("squashes", "squash"), ("asparagus", "asparagus"),
        ("okra", "okra"), ("peas", "pea"), ("leaves", "leaf"), ("swiss chard", "swiss chard"),
        ("Brussels sprouts", "brussels sprout"), ("brussel sprout", "brussels sprout"),
        ("courgettes", "zucchini"), ("Zucchinis", "zucchini"), ("beetroot", "beet"),
        ("red beets", "beet"), ("snap beans", "green bean"), ("String Beans", "green bean"),
        ("capsicum", "bell pepper"), ("red bell peppers", "bell pepper"),
        ("chillies", "hot pepper"), ("chilies", "hot pepper"), ("chiles", "hot pepper"),
        ("jalapeños", "jalapeno"), ("jalapen\u0303os", "jalapeno"), ("mooli", "daikon"),
        ("daikon radishes", "daikon"), ("pickling cucumbers", "cucumber"),
        ("pickling-cucumbers", "cucumber"), ("sweet corn", "corn"), ("aubergines", "eggplant"),
        ("head cabbage", "cabbage"), ("kohlrabis", "kohlrabi"), ("spring onions", "spring onion"),
        ("scallions", "spring onion"),
    ],
)  # fmt: skip
def test_a_produce_is_known_by_its_names(typed: str, due: str) -> None:
    assert produce_key(typed) == due


@pytest.mark.parametrize(
    "typed",
    ["cucumber + onion", "onion + cucumber", "Onions & Cucumbers", "cucumbers and onions",
     "cucumbers with onions", "onion+cucumber+onions"],
)  # fmt: skip
def test_a_mixture_is_a_produce_of_its_own_whatever_the_order(typed: str) -> None:
    assert produce_key(typed) == "cucumber + onion"


@pytest.mark.parametrize("typed", ["sea buckthorn", "गाजर", "גזר", "大根", "🥕"])
def test_what_is_not_in_the_vocabulary_is_its_own_kind(typed: str) -> None:
    assert produce_key(typed) == typed
    assert produce_key(f" {typed.upper()} ") == typed


@pytest.mark.parametrize("typed", ["", "  ", "---", "(!)", "+", "\x1b\n"])
def test_what_names_nothing_has_no_key(typed: str) -> None:
    assert produce_key(typed) == ""


_names = st.text(st.sampled_from("abcesxohi +&-_()'/ńñ½🥕गा"), max_size=20) | st.text(max_size=20)


@given(_names)
def test_a_key_is_the_key_of_itself(text: str) -> None:
    for key in (produce_key, cut_key, pack_key):
        assert key(key(text)) == key(text)


@given(_names)
def test_case_and_spaces_make_no_other_produce(text: str) -> None:
    assert produce_key(f"  {text} ") == produce_key(text)
    if text.isascii():
        assert produce_key(text.upper()) == produce_key(text.lower())


# Cuts and packs


@pytest.mark.parametrize(
    ("typed", "due"),
    [
        ("Sliced", "slices"), ("rounds", "slices"), ("1/4-inch slices", "slices"),
        ("coins", "slices"), ("crinkle chips", "slices"), ("spear", "spears"),
        ("Sticks", "sticks"), ("batons", "sticks"), ("julienned", "sticks"),
        ("cut into sticks", "sticks"), ("finely shredded", "shredded"), ("grated", "shredded"),
        ("whole", "whole"), ("whole pods", "whole"), ("floret", "florets"), ("ring", "rings"),
        ("ribbons", "strips"), ("diced", "chopped"), ("chunks", "pieces"), ("cut", "pieces"),
        ("cut in half", "halves"), ("quartered", "quarters"), ("wedge", "wedges"),
        ("kernels", "kernels"), ("cloves", "cloves"), ("", ""), ("  ", ""),
        ("Accordion", "accordion"),
    ],
)  # fmt: skip
def test_a_cut_is_known_by_its_names(typed: str, due: str) -> None:
    assert cut_key(typed) == due


@pytest.mark.parametrize(
    ("typed", "due"),
    [
        ("raw", "raw"), ("Raw pack", "raw"), ("cold-pack", "raw"), ("packed raw", "raw"),
        ("fresh pack", "raw"), ("HOT", "hot"), ("hot-packed", "hot"), ("cooked", "hot"),
        ("", ""), ("?", ""), ("steam", "steam"),
    ],
)  # fmt: skip
def test_a_pack_is_raw_or_hot_in_many_words(typed: str, due: str) -> None:
    assert pack_key(typed) == due


# Common practice, no source: these draw or cook out their own liquid, and no brine is made apart.
@pytest.mark.parametrize(
    "produce", ["corn relish", "green tomato chutney", "sauerkraut", "kraut", "kimchi", "salsa"]
)
def test_what_makes_its_own_brine_is_known(produce: str) -> None:
    assert makes_its_own_brine(produce, "")


@pytest.mark.parametrize("produce", ["cabbage", "cucumber", "corn", "green tomato"])
def test_what_is_packed_in_brine_is_known_too(produce: str) -> None:
    assert not makes_its_own_brine(produce, "slices")
    assert makes_its_own_brine(produce, "relish")


def test_a_count_beside_a_size_in_figures_stays_apart_from_it() -> None:
    for key in SHELF:
        said = so_many("13", key)
        assert not re.match(r"13 [\d½]", said), said  # no '13 500ml'
        assert [(one.number, one.sort) for one in read_jars(said)] == [(13.0, key)]
    assert turns_text([(6.0, "1l"), (float("inf"), "500ml")]) == "6 x 1l, then 500ml"
