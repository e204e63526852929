"""Salt that is not the card's share is said wherever it is written down."""

from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

Run = Callable[..., Any]

KRAUT = ("--recipe", "sauerkraut", "--pack", "raw")
TOO_LITTLE, TOO_MUCH = "Too little salt: ", "Too much salt: "
# 20 lb is 9,072 g; 2.25 to 2.5 % of it (Making Sauerkraut, Univ. of Minnesota) 204 to 227 g.
LITTLE, RIGHT, MUCH = "80 g", "7 1/2 oz", "1 cup canning salt"
SALTED = pytest.mark.parametrize(
    ("salt", "said"), [(LITTLE, TOO_LITTLE), (RIGHT, ""), (MUCH, TOO_MUCH)]
)


def said_in(text: str) -> str:
    """What of the two is said, on one line."""
    line = " ".join(text.split())
    return next((said for said in (TOO_LITTLE, TOO_MUCH) if said in line), "")


@SALTED
def test_where_a_batch_is_begun(run: Run, salt: str, said: str) -> None:
    ran = run("begin", *KRAUT, "--trimmed", "20 lb", "--salt", salt)
    assert ran.code == 0
    assert said_in(ran.err) == said
    told = " ".join(ran.out.split())
    assert "Salt: 7¼ to 8 oz (¾ cup canning salt), 2.25 to 2.5 % of the trimmed" in told


@SALTED
@pytest.mark.parametrize("first", ["--trimmed", "--salt"])
def test_where_it_is_weighed_whichever_comes_first(
    run: Run, first: str, salt: str, said: str
) -> None:
    weights = {"--trimmed": "20 lb", "--salt": salt}
    run("begin", *KRAUT, first, weights.pop(first), "--batch", "k")
    ((option, text),) = weights.items()
    ran = run("weigh", option, text)
    assert (ran.code, said_in(ran.err)) == (0, said)
    # JSON says it among what is odd, and stands by it no less.
    document = run("weigh", option, text, "--json").document
    assert said_in(" ".join(one["message"] for one in document["odd"])) == said
    assert document["forecast"]["ferment_salt"]["weight"] == "7¼ to 8 oz"
    # Once more when it is closed, however long ago it was typed.
    assert said_in(run("close", "--jars", "7").err) == said


@SALTED
def test_where_a_finished_batch_is_recorded_amended_or_imported(
    run: Run, kitchen: Path, salt: str, said: str
) -> None:
    weighed = ("--trimmed", "20 lb", "--cure-hours", "600")
    ran = run("record", *KRAUT, "--produce", "cabbage", "--cut", "shredded", "--jar", "quart",
              "--jars", "8", *weighed, "--salt", salt, "--batch", "k1")  # fmt: skip
    assert (ran.code, said_in(ran.err)) == (0, said), ran.err
    run("amend", "k1", "salt=7 1/2 oz")
    assert said_in(run("amend", "k1", f"salt={salt}").err) == said
    table = kitchen / "kraut.csv"
    table.write_text(
        "batch,date,produce,cut,pack,jar,trimmed,salt,jars,recipe\n"
        f"k2,2024-10-01,cabbage,shredded,raw,quart,20 lb,{salt},8,sauerkraut\n"
    )
    ran = run("import", str(table))
    assert (ran.code, said_in(ran.err)) == (0, said), ran.err


def test_where_the_trimmed_weight_is_missing_the_check_is_said_to_be_missing(run: Run) -> None:
    ran = run("record", *KRAUT, "--produce", "cabbage", "--cut", "shredded", "--jar", "quart",
              "--jars", "8", "--as-bought", "25 lb", "--salt", "3/4 cup")  # fmt: skip
    told = " ".join(ran.err.split())
    assert "Salt check: not possible, as the trimmed weight was not weighed." in told


def test_a_forecast_names_one_salt_alone(run: Run, kitchen: Path) -> None:
    asked = ("forecast", *KRAUT, "--jar", "quart", "--as-bought", "25 lb")
    for more, salt in (
        ((), "Weigh what you trimmed, and weigh the salt out by that."),
        (("--trimmed", "23 lb"), "8½ to 9 oz (¾ cup + 1 tbsp to ¾ cup + 2 tbsp canning salt)"),
    ):
        said = " ".join(run(*asked, *more).out.split())
        assert salt in said
        assert "¾ cup canning salt" not in said
        document = run(*asked, *more, "--json").document
        assert document["brine_ingredients"] == []
        assert document["ferment_salt"]["share"] == [0.0225, 0.025]
        sheet = kitchen / "sheet.html"
        assert run(*asked, *more, "--sheet", str(sheet)).code == 0
        page = " ".join(sheet.read_text("utf-8").partition("Safety, as the recipe")[0].split())
        assert salt in page
        assert "<td>¾ cup</td>" not in page
    # 23 lb salted with 3/4 cup: 219 of 10,433 g.
    low = " ".join(run(*asked, "--trimmed", "23 lb", "--salt", "3/4 cup").out.split())
    assert "Too little salt: 2.10 %" in low


def test_before_anything_is_weighed_the_share_is_said_and_no_amount(run: Run) -> None:
    asked = ("forecast", *KRAUT, "--jars", "9 quarts")
    said = " ".join(run(*asked).out.split())
    assert "Salt: 2.25 to 2.5 % of the trimmed weight. Weigh what you trimmed" in said
    assert run(*asked, "--json").document["ferment_salt"]["grams"] is None


@pytest.mark.parametrize(
    ("weights", "ounces"),
    # Salt is bought for all that may be left after trimming: 2.5 % of 25 lb is 10 oz, of 23 lb
    # trimmed 9.2.
    [("25 lb,", "10 oz"), ("25 lb,23 lb", "9¼ oz"), (",23 lb", "9¼ oz")],
)
def test_a_harvest_buys_as_much_salt_as_the_share_may_take(
    run: Run, kitchen: Path, weights: str, ounces: str
) -> None:
    plan = kitchen / "plan.csv"
    plan.write_text(f"recipe,as_bought,trimmed,jar,pack\nsauerkraut,{weights},quart,raw\n")
    ran = run("harvest", str(plan))
    assert f"canning salt: {ounces}" in ran.out, ran.err
    assert "not counted" not in ran.out


def test_more_than_twice_the_printed_kraut_is_said_by_the_trimmed_weight_too(run: Run) -> None:
    # 25 lb as bought (AIB 539, Guide 6, p. 6-8): 60 lb trimmed were no less when they were bought.
    beyond = "More than twice the printed recipe at once"
    for pounds, said in (("60 lb", True), ("40 lb", False)):
        asked = ("forecast", *KRAUT, "--jar", "quart", "--trimmed", pounds)
        assert (beyond in " ".join(run(*asked).out.split())) == said
