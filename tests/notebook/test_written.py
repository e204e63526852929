"""Cells as people write them: what lands is what a cook would read; what is in doubt is told."""

import datetime as dt
from pathlib import Path

import pytest

from jarcast.notebook.rehearsal import Rehearsal, rehearse

TODAY = dt.date(2026, 11, 28)
LB, CUP = 453.59237, 236.5882365  # NIST Handbook 44, appendix C


def put(folder: Path, text: str) -> Rehearsal:
    (folder / "mine.csv").write_text(text, encoding="utf-8")
    return rehearse([folder / "mine.csv"], today=TODAY)


def one_cell(folder: Path, heading: str, cell: str, size: str = "Pints,20") -> Rehearsal:
    """A batch of 20 pints with this cell under this heading."""
    head, count = size.split(",")
    return put(folder, f'Day,Crop,{head},{heading}\n2024-06-01,okra,{count},"{cell}"\n')


OZ = LB / 16
# What a cook reads under 'Trimmed (lb)', in grams; a mark tells that it is read, and told.
WEIGHED = {
    "6 1/4": 6.25 * LB, "6-1/4": 6.25 * LB, "6\u00bc": 6.25 * LB, "6,5": 6.5 * LB, "six": 6 * LB,
    "six and a half": 6.5 * LB, "3+3.5": 6.5 * LB, "6 1/2 + 3": 9.5 * LB, "6# 4 oz": 6.25 * LB,
    "2.8 kg": 2800, "6 (lb)": 6 * LB, "a pound": LB,
}  # fmt: skip
ABOUT = {"abt 6": 6 * LB, "~6": 6 * LB, "6?": 6 * LB, "6 or so": 6 * LB, "6 lb 4": 100 * OZ}


@pytest.mark.parametrize("cell", WEIGHED | ABOUT)
def test_a_weight_is_read_as_a_cook_reads_it(cell: str, tmp_path: Path) -> None:
    read = one_cell(tmp_path, "Trimmed (lb)", cell)
    assert read.entries[0][1].batch.trimmed_g == pytest.approx((WEIGHED | ABOUT)[cell])
    assert [why for _, why in read.doubts if cell in why] == (
        [f"trimmed '{cell}' is read as {'6 lb 4 oz' if cell == '6 lb 4' else '6 lb'}"]
        if cell in ABOUT
        else []
    )


@pytest.mark.parametrize(
    "cell", ["6 4", "6/4", "2 x 3 lb", "6 to 7", "1,250", "6 lb trimmed", "lots", "2.800 g", "none"]
)
def test_an_odd_cell_is_left_out_and_told_and_its_batch_stays(cell: str, tmp_path: Path) -> None:
    read = one_cell(tmp_path, "Trimmed (lb)", cell)
    ((_, entry),) = read.entries
    assert entry.batch.trimmed_g is None
    assert cell in entry.batch.note or cell == "none"
    ((_, why),) = read.doubts
    assert "left out" in why
    assert cell in why


# A weight over two columns, each with its unit alone in the heading, in grams.
TWO_COLUMNS = {
    ("lbs.", "oz."): 4 * LB + 12 * OZ, ("Lb", "Oz"): 4 * LB + 12 * OZ,
    ("lbs", "(ozs)"): 4 * LB + 12 * OZ, ("lbs", "and oz"): 4 * LB + 12 * OZ,
    ("Pounds", "+ ounces"): 4 * LB + 12 * OZ, ("kg", "g"): 4012, ("Kilos", "& grams"): 4012,
}  # fmt: skip


@pytest.mark.parametrize("heads", TWO_COLUMNS)
def test_a_smaller_unit_beside_a_weight_goes_on_with_it(
    heads: tuple[str, str], tmp_path: Path
) -> None:
    read = put(tmp_path, f"Day,Crop,{','.join(heads)},Pints\n2024-06-01,okra,4,12,8\n")
    assert read.entries[0][1].batch.as_bought_g == pytest.approx(TWO_COLUMNS[heads])
    assert (read.doubts, read.ignored) == ((), ())


def test_ounces_beside_a_weight_are_not_its_unit(tmp_path: Path) -> None:
    read = put(tmp_path, "Day,Crop,Weight,oz.,Pints\n2024-06-01,okra,4,12,8\n")
    assert "which unit is the column 'Weight'?" in read.asked[0].text


@pytest.mark.parametrize("cell", ["-", "\u2014", "n/a", "?", "not weighed", "N/A"])
def test_a_cell_that_says_nothing_was_written_down_is_empty(cell: str, tmp_path: Path) -> None:
    for heading in ("Trimmed (lb)", "Brine made (c)", "Sealed"):
        read = one_cell(tmp_path, heading, cell)
        ((_, entry),) = read.entries
        assert (entry.batch.trimmed_g, entry.batch.brine_made_ml, entry.batch.sealed) == (None,) * 3
        assert read.doubts == ()


@pytest.mark.parametrize("cell", ["none", "ran out", "all used", "0", "nil", "used it all"])
def test_brine_that_ran_out_is_none_left(cell: str, tmp_path: Path) -> None:
    read = one_cell(tmp_path, "Brine left (c)", cell)
    assert (read.entries[0][1].batch.brine_left_ml, read.doubts) == (0.0, ())


@pytest.mark.parametrize(
    ("cell", "jars"),
    [
        ("8 pt 2 qt", "8 pint + 2 quart"), ("14 quarts 1 pint", "14 quart + 1 pint"),
        ("8 pts + 1 hp", "8 pint + 1 half-pint"), ("6 pts 1 half pt", "6 pint + 1 half-pint"),
        ("10 wide pints 2 quarts", "10 pint-wide + 2 quart"), ("eight pints", "8 pint"),
    ],
)  # fmt: skip
def test_counts_with_their_sorts_are_told_apart(cell: str, jars: str, tmp_path: Path) -> None:
    read = put(tmp_path, f"Day,Crop,Jars\n2024-06-01,okra,{cell}\n")
    batch = read.entries[0][1].batch
    assert batch.filled_text == jars


@pytest.mark.parametrize(
    ("cell", "jars"),
    [
        ("8-1/2", 8.5), ("8+3", 11), ("eight", 8), ("eight and a half", 8.5), ("8,5", 8.5),
        ("a dozen", 12), ("8 jars", 8), ("1/2", 0.5), ("8 (1 cracked)", 8), ("about 8", 8),
    ],
)  # fmt: skip
def test_a_count_under_pints_is_of_pints(cell: str, jars: float, tmp_path: Path) -> None:
    read = put(tmp_path, f'Day,Crop,Pints\n2024-06-01,okra,"{cell}"\n')
    batch = read.entries[0][1].batch
    assert (batch.jar, batch.jars) == (("pint",), (jars,))
    assert len(read.doubts) == ("about" in cell)


@pytest.mark.parametrize("cell", ["8/7", "7/8", "lots", "8 to 9", "9 less 1"])
def test_jars_that_cannot_be_told_are_refused_for_what_stands_there(
    cell: str, tmp_path: Path
) -> None:
    read = put(tmp_path, f"Day,Crop,Pints\n2024-06-01,okra,{cell}\n")
    ((_, why),) = read.refused
    assert (read.entries, cell in why, "is empty" in why) == ((), True, False)


@pytest.mark.parametrize("cell", ["7 pints & half", "7 pints and half", "7 pts + half pint"])
def test_a_half_after_pints_may_be_of_a_jar_or_a_jar_and_is_told(cell: str, tmp_path: Path) -> None:
    read = put(tmp_path, f"Day,Crop,Jars\n2024-06-01,okra,{cell}\n")
    assert not read.entries
    assert "write '7.5', or '7 pints + 1 half-pint'" in read.refused[0][1]


WHY_NO_DAY = {
    "6 juillet 2022": "write it like 2024-08-31 or Aug 31 2024", "8/20": "gives no year",
    "20.8.": "gives no year", "Aug 20": "gives no year", "99/99/2022": "could be mixed up",
}  # fmt: skip


@pytest.mark.parametrize("date", WHY_NO_DAY)
def test_a_date_that_is_none_is_told_with_what_it_lacks(date: str, tmp_path: Path) -> None:
    read = put(tmp_path, f"Day,Crop,Pints\n{date},okra,8\n")
    assert WHY_NO_DAY[date] in read.refused[0][1]


def test_none_left_needs_no_unit(tmp_path: Path) -> None:
    head = "Day,Crop,Pints,Brine made,Brine left"
    rows = "2024-06-01,okra,8,9 c,1 c\n2024-06-02,okra,8,9 c,0\n2024-06-03,okra,8,9 c,2 c\n"
    read = put(tmp_path, f"{head}\n{rows}")
    left = [entry.batch.brine_left_ml for _, entry in read.entries]
    assert left == pytest.approx([CUP, 0, 2 * CUP])
    assert not read.asked


def test_a_number_alone_among_cells_with_units_is_named_by_its_row(tmp_path: Path) -> None:
    rows = "".join(
        f"2024-06-0{day},okra,8,{cell}\n" for day, cell in enumerate(("4 lb", "4 lb", "4"), start=1)
    )
    (asked,) = put(tmp_path, f"Day,Crop,Pints,Weight\n{rows}").asked
    assert asked.text.endswith("mine.csv, row 4")


def test_no_jars_are_said_to_be_none(tmp_path: Path) -> None:
    read = put(tmp_path, "Day,Crop,Pints\n2024-06-01,okra,none\n")
    assert read.refused[0][1] == "no jars were filled"


@pytest.mark.parametrize(
    ("cell", "sealed"),
    [
        ("19", 19), ("19/20", 19), ("20 of 20", 20), ("19 out of 20", 19), ("all", 20), ("yes", 20),
        ("all but 1", 19), ("all but two", 18), ("1 failed", 19), ("none", 0), ("all 20", 20),
    ],
)  # fmt: skip
def test_jars_that_sealed_are_counted_of_those_filled(
    cell: str, sealed: float, tmp_path: Path
) -> None:
    read = one_cell(tmp_path, "Sealed", cell)
    assert (read.entries[0][1].batch.sealed, read.doubts) == (sealed, ())


@pytest.mark.parametrize("cell", ["18/19", "8/7", "no", "most"])
def test_a_count_of_seals_that_fits_no_count_of_jars_is_left_out(cell: str, tmp_path: Path) -> None:
    read = one_cell(tmp_path, "Sealed", cell)
    assert read.entries[0][1].batch.sealed is None
    assert cell in read.doubts[0][1]


def test_seals_counted_by_size_are_added(tmp_path: Path) -> None:
    read = put(
        tmp_path, "Day,Crop,Pts,Qts,Pts sealed,Qts sealed\n2024-06-01,okra,8,3,7,all\n"
    )  # fmt: skip
    assert read.entries[0][1].batch.sealed == 10


# Points and commas


def test_points_part_thousands_where_decimals_follow_commas(tmp_path: Path) -> None:
    """Grams and millilitres of a household: 2.500 g are two and a half kilos there."""
    read = put(
        tmp_path,
        "Date;Crop;Bought (g);Trimmed (g);Jars;Size;Brine (ml);Brine left (ml)\n"
        "2023-07-14;okra;2.500;2.350;5,5;500 ml;1.800;150\n"
        "2023-07-21;carrots;3.250 g;2,640 kg;6;500 ml;1.750,5;1,2 dl\n",
    )
    first, second = (entry.batch for _, entry in read.entries)
    weighed = (first.as_bought_g, first.trimmed_g, first.brine_made_ml, first.brine_left_ml)
    assert weighed == (2500, 2350, 1800, 150)
    assert first.jars == (5.5,)
    weighed = (second.as_bought_g, second.trimmed_g, second.brine_made_ml, second.brine_left_ml)
    assert weighed == (3250, 2640, 1750.5, pytest.approx(120))
    assert read.doubts == ()


@pytest.mark.parametrize("unit", ["g", "ml"])
def test_a_point_before_three_digits_is_in_doubt_under_a_small_unit(
    unit: str, tmp_path: Path
) -> None:
    heading = f"{'Trimmed' if unit == 'g' else 'Brine made'} ({unit})"
    read = one_cell(tmp_path, heading, "2.900")
    batch = read.entries[0][1].batch
    assert (batch.trimmed_g, batch.brine_made_ml) == (None, None)
    assert "2900" in read.doubts[0][1]


def test_a_point_before_three_digits_is_a_decimal_one_under_a_large_unit(tmp_path: Path) -> None:
    read = put(tmp_path, "Day,Crop,Trimmed (kg),Pints\n2024-06-01,okra,2.125,8\n")
    assert read.entries[0][1].batch.trimmed_g == pytest.approx(2125)


def test_grams_out_of_pounds_keep_their_decimals(tmp_path: Path) -> None:
    """907.185 g are two pounds (NIST Handbook 44), beside numbers with other decimals."""
    text = "Day,Crop,Trimmed (g),Pints\n2024-06-01,okra,907.185,3\n2024-06-02,okra,1814.37,6\n"
    assert put(tmp_path, text).entries[0][1].batch.trimmed_g == pytest.approx(907.185)


def test_a_comma_before_three_digits_is_a_decimal_one_of_kilograms(tmp_path: Path) -> None:
    text = "Day;Crop;Bought (kg);Jars;Size\n2024-06-01;okra;3,250;5,5;500 ml\n"
    batch = put(tmp_path, text).entries[0][1].batch
    assert (batch.as_bought_g, batch.jars) == (pytest.approx(3250), (5.5,))


# What follows from two columns


@pytest.mark.parametrize(
    ("head", "cells", "made", "left"),
    [
        ("Brine used (c),Brine left (c)", "8,4", 12, 4),
        ("Brine made (c),Brine used (c)", "12,8", 12, 4),
        ("Brine made (c),Brine used (c),Brine left (c)", "12,8,4", 12, 4),
        ("Brine used (c),Brine left (c)", "8,none", 8, 0),
        ("Brine used (qt)", "2", 8, None),
    ],
)
def test_brine_used_is_what_was_made_less_what_was_left(
    head: str, cells: str, made: float, left: float | None, tmp_path: Path
) -> None:
    read = put(tmp_path, f"Day,Crop,Pints,{head}\n2024-06-01,okra,9,{cells}\n")
    batch = read.entries[0][1].batch
    assert batch.brine_made_ml == pytest.approx(made * CUP)
    assert batch.brine_left_ml == (None if left is None else pytest.approx(left * CUP))
    assert any("used" in why for _, why in read.doubts)


@pytest.mark.parametrize(
    ("head", "cells", "bought", "trimmed"),
    [
        ("Bought (lb),Peelings (lb)", "10,2", 10, 8),
        ("Trimmed (lb),Trimmings (lb)", "8,2", 10, 8),
        ("Bought (lb),Trimmed (lb),lbs trimmed off", "10,7.5,2", 10, 7.5),
    ],
)
def test_what_was_trimmed_off_tells_what_was_left_and_is_told(
    head: str, cells: str, bought: float, trimmed: float, tmp_path: Path
) -> None:
    read = put(tmp_path, f"Day,Crop,Pints,{head}\n2024-06-01,carrots,9,{cells}\n")
    batch = read.entries[0][1].batch
    assert batch.as_bought_g == pytest.approx(bought * LB)
    assert batch.trimmed_g == pytest.approx(trimmed * LB)
    assert len(read.doubts) == (cells.count(",") == 1)


@pytest.mark.parametrize(
    ("heading", "cell", "column", "value"),
    [
        ("Salt lbs", "2", "salt_g", 2 * LB), ("Salt (oz)", "12", "salt_g", 12 * OZ),
        ("After the salt (lb)", "2", "cured_g", 2 * LB), ("Days in salt", "2", "cure_hours", 48),
        ("Hrs salted", "none", "cure_hours", 0), ("Headspace (cm)", "1.27", "headspace_in", 0.5),
    ],
)  # fmt: skip
def test_a_number_takes_the_unit_of_its_heading(
    heading: str, cell: str, column: str, value: float, tmp_path: Path
) -> None:
    read = one_cell(tmp_path, heading, cell)
    assert getattr(read.entries[0][1].batch, column) == pytest.approx(value)


@pytest.mark.parametrize(
    ("cell", "note", "jars", "told"),
    [
        ("14", "last one half full", 13.5, "14 pint, last one half full, are read as 13.5 pint"),
        ("14 (last half full)", "", 13.5, "14 pint, last half full, are read as 13.5 pint"),
        ("13.5", "last one half full", 13.5, ""),
        (
            "14",
            "last jar part full",
            14.0,
            "14 pint, last jar part full: they are read as full ones",
        ),
        ("14", "hot, tired", 14.0, ""),
    ],
)
def test_a_last_jar_that_words_call_part_full_is_not_counted_as_a_full_one(
    tmp_path: Path, cell: str, note: str, jars: float, told: str
) -> None:
    read = put(tmp_path, f'Day,Crop,Pints,Notes\n2024-06-01,okra,"{cell}","{note}"\n')
    ((_, entry),) = read.entries
    assert entry.batch.jars == (jars,)
    assert [why for _, why in read.doubts] == ([f"jars {told}"] if told else [])
