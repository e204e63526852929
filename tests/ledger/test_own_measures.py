"""Jars of one's own: named so that nothing else reads so, measured by water, never lost."""

import datetime as dt
import math
import sqlite3
from contextlib import closing
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from jarcast.batchtable import read_csv, write_csv
from jarcast.domain.batch import Batch
from jarcast.domain.jars import REGULAR_BORE_MM, SHELF, WIDE_BORE_MM, Jar, jar_key
from jarcast.errors import BatchError, LedgerError
from jarcast.forecast.request import check_request
from jarcast.ledger import Entry, Ledger
from jarcast.ledger.own_measures import (
    SCALE_ERROR_G,
    add_jar,
    measured_by,
    measured_jar,
    measuring_error_ml,
    own_jar_key,
    own_jars,
    shelf,
)

OUNCE_G = 28.349523125  # exact: NIST Handbook 44, Appendix C

# Density of water in g/ml, by degrees Celsius: CRC Handbook of Chemistry and Physics, from memory
# (the same as NIST's tables to four places).
WATER_DENSITY = {4: 1.0000, 10: 0.9997, 20: 0.9982, 25: 0.9970, 30: 0.9957}


@pytest.fixture
def path(tmp_path: Path) -> Path:
    """Where the ledger will be."""
    return tmp_path / "ledger.sqlite3"


# Names


@pytest.mark.parametrize(
    ("name", "key"),
    [
        ("tall jar", "tall"), ("Tall Jars", "tall"), (" TALL ", "tall"), ("honey-jar", "honey"),
        ("glass honey jar", "honey"), ("round one", "round-one"), ("honey 370", "honey-370"),
        ("wide tall jar", "tall-wide"), ("tall_one", "tall-one"),
        ("aunt\u2019s jar", "aunt's"), ("aunt's", "aunt's"), ("ｔａｌｌ", "tall"), ("लंबा", "लंबा"),
    ],
)  # fmt: skip
def test_a_name_is_its_own_key_folded_as_other_jars_names_are(name: str, key: str) -> None:
    assert own_jar_key(name) == key
    assert jar_key(name, {**SHELF, key: Jar(key, 400.0, 60.0)}) == key


@pytest.mark.parametrize(
    ("name", "why"),
    [
        ("tall+short", r"'\+' is in it"), ("tall, blue", "',' is in it"),
        ("tall; blue", "';' is in it"), ("=tall", "'=' is in it"), ("tall/short", "'/' is in it"),
        ("tall ½", "'½' is in it"), ("ta\x1bll", "is in it"), ("ta\x00ll", "is in it"),
        ("tall, then short", "',' is in it"), ("tall then short", "separate jars and counts"),
        ("then", "separate jars and counts"), ("x tall", "separate jars and counts"),
        ("a'then", "separate jars and counts"),
        ("12 jar", "count of jars"), ("5 tall jars", "count of jars"), ("12", "count of jars"),
        ("3tall", "count of jars"), ("٣ tall", "count of jars"),
        ("", "which jar"), ("jar", "which jar"), ("glass jars", "which jar"), ("wide", "which jar"),
        ("...", "which jar"), ("-", "which jar"), ("'tall'", "which jar"),
        ("t" * 41, "41 characters"), ("t" * 100_000, "100000 characters"),
        ("pint", "built-in"), ("Wide-mouth pints", "built-in"), ("16 oz", "built-in"),
        ("litre jar", "built-in"), ("½ l", "built-in"), ("quart-wide", "built-in"),
    ],
)  # fmt: skip
def test_a_name_that_reads_otherwise_or_is_taken_is_refused(name: str, why: str) -> None:
    with pytest.raises(BatchError, match=why) as caught:
        own_jar_key(name)
    assert "such as 'tall jar'" in str(caught.value)
    assert len(str(caught.value)) < 250


_names = st.text(max_size=12) | st.text(st.sampled_from("abtxl -_.'5\u2019ñßگ"), max_size=12)


@given(_names)
def test_a_name_that_is_taken_is_found_again_however_it_is_written(name: str) -> None:
    try:
        key = own_jar_key(name)
    except BatchError:
        return
    assert own_jar_key(key) == key
    jars = {**SHELF, key: Jar(key, 400.0, 60.0)}
    assert jar_key(name, jars) == jar_key(f"  {name.upper()} jars", jars) == key
    assert jar_key("pints", jars) == "pint"


@given(_names)
def test_a_name_that_is_taken_can_stand_in_a_list_of_jars(name: str) -> None:
    try:
        key = own_jar_key(name)
    except BatchError:
        return
    jars = {**SHELF, key: Jar(key, 400.0, 60.0)}
    for text, keys, counts in (
        (name, (key,), (math.inf,)),
        (f"5 {name}, then pint", (key, "pint"), (5, math.inf)),
        (f"2 x {name} then 3 quarts; {key}", (key, "quart", key), (2, 3, math.inf)),
    ):
        request = check_request(
            produce="carrot", cut="", pack="", jar=text, weights={"trimmed_g": 2000.0},
            cure_hours=None, salt_g=None, headspace_in=None, draws=1, seed=0, shelf=jars,
        )  # fmt: skip
        assert tuple(turn.jar.key for turn in request.turns) == keys
        assert tuple(turn.count for turn in request.turns) == counts


# Measures


@pytest.mark.parametrize(
    ("bore_mm", "headspace_in", "gap_ml"),
    # Volume of the neck, worked out by hand: pi / 4 x 6.0 cm squared x 1.27 cm is 35.9 ml; 76 mm is
    # 57.6 ml. The bores are from memory.
    [(60.0, 0.5, 35.9), (76.0, 0.5, 57.6), (60.0, 0.25, 18.0), (76.0, 1.0, 115.2)],
)
def test_the_brim_is_what_was_weighed_and_the_neck_above_it(
    bore_mm: float, headspace_in: float, gap_ml: float
) -> None:
    jar = measured_jar("tall", 415.0, headspace_in=headspace_in, bore_mm=bore_mm)
    assert jar.fill_volume_ml(headspace_in) == pytest.approx(415.0, abs=1e-9)
    assert jar.capacity_ml == pytest.approx(415.0 + gap_ml, abs=0.06)
    assert jar.wide is (bore_mm >= 76.0)


@pytest.mark.parametrize(
    ("gap_g", "headspace_in", "bore_mm"),
    [(35.9, 0.5, 60.0), (57.6, 0.5, 76.0), (18.0, 0.25, 60.0), (115.2, 1.0, 76.0)],
)
def test_water_to_the_brim_tells_the_mouth(
    gap_g: float, headspace_in: float, bore_mm: float
) -> None:
    jar = measured_jar("tall", 415.0, headspace_in=headspace_in, brim_g=415.0 + gap_g)
    assert jar.bore_mm == pytest.approx(bore_mm, abs=0.1)
    assert jar.capacity_ml == pytest.approx(415.0 + gap_g, abs=1e-9)
    assert jar.fill_volume_ml(headspace_in) == pytest.approx(415.0, abs=1e-9)


@given(st.floats(50.0, 5000.0), st.floats(0.0, 1.0), st.floats(15.0, 90.0), st.floats(0.0, 1.0))
def test_at_the_headspace_it_was_weighed_at_a_jar_holds_what_was_weighed(
    grams: float, headspace: float, bore: float, other: float
) -> None:
    jar = measured_jar("tall", grams, headspace_in=headspace, bore_mm=bore)
    held = jar.fill_volume_ml(headspace)
    if grams >= 0.05 * jar.capacity_ml:
        assert held == pytest.approx(grams, rel=1e-9)
    less, more = sorted((headspace, other))
    assert jar.fill_volume_ml(more) <= jar.fill_volume_ml(less)


def test_a_mouth_that_nothing_tells_is_the_regular_one_and_the_name_may_tell() -> None:
    assert measured_jar("tall", 415.0).bore_mm == REGULAR_BORE_MM
    assert measured_jar("wide tall", 415.0).bore_mm == WIDE_BORE_MM
    assert measured_jar("wide tall", 415.0, bore_mm=82.0).wide


def test_a_brim_that_agrees_leaves_the_mouth_as_given() -> None:
    # 57.6 ml for 76 mm, by hand; two readings of a scale good to 5 g may be 10 g apart.
    for brim in (415.0 + 57.6 - 10.0, 415.0 + 57.6, 415.0 + 57.6 + 10.0):
        assert measured_jar("tall", 415.0, brim_g=brim, bore_mm=76.0).bore_mm == 76.0


@pytest.mark.parametrize(
    ("grams", "more", "why"),
    [
        (0.0, {}, "check its unit"), (415_000.0, {}, "check its unit"),
        (math.nan, {}, "check its unit"), (-5.0, {}, "check its unit"),
        (415.0, {"headspace_in": -0.5}, "a headspace"),
        (415.0, {"headspace_in": math.inf}, "a headspace"),
        (415.0, {"bore_mm": 1778.0}, "a bore"), (415.0, {"bore_mm": 2.0}, "a bore"),
        (415.0, {"brim_g": 415.0}, "no more than"), (415.0, {"brim_g": 400.0}, "no more than"),
        (415.0, {"brim_g": math.nan}, "weight to the brim"),
        (415.0, {"brim_g": 4150.0}, "a mouth of 611.9"),
        (415.0, {"brim_g": 515.0, "bore_mm": 60.0}, "leave the mouth out"),
        (415.0, {"brim_g": 417.0, "bore_mm": 60.0}, "leave the mouth out"),
        (415.0, {"headspace_in": 0.0, "brim_g": 420.0}, "already at the brim"),
        (15.0, {"headspace_in": 3.0, "bore_mm": 80.0}, "more than the whole jar"),
    ],
)  # fmt: skip
def test_measures_that_cannot_be_are_refused(
    grams: float, more: dict[str, float], why: str
) -> None:
    with pytest.raises(BatchError, match=f"^jar 'tall': .*{why}"):
        measured_jar("tall", grams, **more)


def test_a_name_that_says_wide_and_a_narrow_bore_contradict_each_other() -> None:
    with pytest.raises(BatchError, match="its name says wide mouth"):
        measured_jar("wide tall", 415.0, bore_mm=60.0)


@pytest.mark.parametrize("grams", [100.0, 415.0, 1000.0, 4000.0])
def test_the_error_stated_covers_the_scale_and_the_temperature_of_the_water(grams: float) -> None:
    for density in WATER_DENSITY.values():
        for reading in (grams - SCALE_ERROR_G, grams + SCALE_ERROR_G):
            truth = grams / density
            assert abs(reading - truth) <= measuring_error_ml(grams) + 1e-9
    assert measuring_error_ml(grams) - SCALE_ERROR_G <= 0.005 * grams  # the temperature's part


@pytest.mark.parametrize("ounces", [4.9, 8.65, 15.2, 109.45])
def test_containers_of_a_published_water_capacity_are_measured_within_the_error(
    ounces: float,
) -> None:
    # 7 CFR 52.3755, Table III: water capacity in ounces avoirdupois of can sizes 211x200, 211x304,
    # 300x407 (No. 300) and 603x700 (No. 10), brim full; at 68 F (20 C) water weighs 0.9982 g/ml.
    grams = ounces * OUNCE_G
    jar = measured_jar("tin", grams, headspace_in=0.0)
    assert jar.capacity_ml == jar.fill_volume_ml(0.0)
    assert abs(jar.capacity_ml - grams / 0.9982) < measuring_error_ml(grams) - SCALE_ERROR_G


# In the ledger

TALL = Jar("tall", 451.0, 60.0)
TALLER = Jar("tall", 460.0, 60.0)


def test_a_jar_comes_back_as_it_was_measured(path: Path) -> None:
    jar = measured_jar("tall", 415.123456789, brim_g=451.7)
    with Ledger.open(path, writing=True) as ledger:
        assert add_jar(ledger, jar, {"water": "415 g", "brim": "451.7 g"}) is None
    with Ledger.open(path) as ledger:
        assert own_jars(ledger) == {"tall": jar}
        assert measured_by(ledger) == {"tall": {"water": "415 g", "brim": "451.7 g"}}
        assert shelf(ledger) == {**SHELF, "tall": jar}


def test_a_ledger_without_jars_of_its_own_has_the_built_in_shelf(path: Path) -> None:
    with Ledger.open(path) as ledger:
        assert shelf(ledger) == SHELF
        assert own_jars(ledger) == measured_by(ledger) == {}


def test_the_newest_measure_stands_and_the_older_stays_in_the_file(path: Path) -> None:
    with Ledger.open(path, writing=True) as ledger:
        add_jar(ledger, TALL, {"water": "415 g"})
        add_jar(ledger, Jar("honey", 300.0, 60.0), {"water": "264 g"})
        assert add_jar(ledger, TALLER, {"water": "424 g"}) == TALL
        assert own_jars(ledger) == {"tall": TALLER, "honey": Jar("honey", 300.0, 60.0)}
        assert list(own_jars(ledger)) == ["tall", "honey"]
        assert measured_by(ledger)["tall"] == {"water": "424 g"}
    with closing(sqlite3.connect(path)) as raw:
        rows = raw.execute("SELECT name, capacity_ml FROM own_jar ORDER BY id").fetchall()
        kinds = raw.execute("SELECT kind FROM action ORDER BY id").fetchall()
    assert rows == [("tall", 451.0), ("honey", 300.0), ("tall", 460.0)]
    assert kinds == [("jar",)] * 3


def test_the_same_measure_again_writes_nothing(path: Path) -> None:
    with Ledger.open(path, writing=True) as ledger:
        add_jar(ledger, TALL, {"water": "415 g"})
        assert add_jar(ledger, TALL, {"water": "415.0 g"}) == TALL
        assert len(ledger.rows("SELECT 1 FROM own_jar")) == 1
        assert len(ledger.rows("SELECT 1 FROM action")) == 1


def test_a_measure_that_comes_back_stands_again(path: Path) -> None:
    with Ledger.open(path, writing=True) as ledger:
        for jar in (TALL, TALLER, TALL):
            add_jar(ledger, jar, {})
        assert own_jars(ledger) == {"tall": TALL}


@pytest.mark.parametrize("statement", ["DELETE FROM own_jar", "UPDATE own_jar SET bore_mm = 1"])
def test_no_jar_ever_goes_away(path: Path, statement: str) -> None:
    with Ledger.open(path, writing=True) as ledger:
        add_jar(ledger, TALL, {})
    with closing(sqlite3.connect(path)) as raw, pytest.raises(sqlite3.IntegrityError):
        raw.execute(statement)


def test_a_name_is_checked_and_folded_on_the_way_in(path: Path) -> None:
    with Ledger.open(path, writing=True) as ledger:
        for name in ("pint", "tall + short", "12 jar"):
            with pytest.raises(BatchError):
                add_jar(ledger, Jar(name, 451.0, 60.0), {})
        assert own_jars(ledger) == {}
        add_jar(ledger, Jar("Tall jar", 451.0, 60.0), {})
        assert own_jars(ledger) == {"tall": TALL}


def test_a_damaged_note_is_told_and_the_jar_is_there_all_the_same(path: Path) -> None:
    with Ledger.open(path, writing=True) as ledger:
        add_jar(ledger, TALL, {})
    with closing(sqlite3.connect(path)) as raw:
        raw.execute("INSERT INTO own_jar VALUES (2, 1, 'honey', 300.0, 60.0, '{')")
        (trigger,) = raw.execute(
            "SELECT sql FROM sqlite_schema WHERE name = 'action_no_update'"
        ).fetchone()
        raw.execute("DROP TRIGGER action_no_update")
        raw.execute("UPDATE action SET digest = NULL")  # as an older jarcast left it
        raw.execute(trigger)
        raw.commit()
    with Ledger.open(path) as ledger:
        assert set(own_jars(ledger)) == {"tall", "honey"}
        with pytest.raises(LedgerError, match="is damaged"):
            measured_by(ledger)


def test_batches_in_a_jar_of_one_s_own_go_out_as_csv_and_come_back(
    path: Path, tmp_path: Path
) -> None:
    batch = Batch(
        batch="1", date=dt.date(2024, 8, 31), produce="carrot", jar=("tall", "pint"),
        jars=(5.0, 1.5), trimmed_g=2000.0,
    )  # fmt: skip
    with Ledger.open(path, writing=True) as ledger:
        add_jar(ledger, TALL, {})
        ledger.add([Entry(batch)], "record")
    with Ledger.open(path) as ledger:
        jars, batches = shelf(ledger), ledger.batches()
    # 451 ml less 35.9 ml of headspace (60 mm bore, half an inch, by hand), and 437.3 ml a pint.
    assert batches[0].fill_volume_ml(jars) == pytest.approx(5 * 415.1 + 1.5 * 437.3, abs=0.5)
    table = tmp_path / "out.csv"
    write_csv(batches, table)
    assert [entry.batch for entry in read_csv(table, jars).entries] == [batch]
    with pytest.raises(BatchError, match=r"there is no jar 'tall'.*'jarcast kitchen jars add'"):
        read_csv(table)
