"""The public names: all of them found and listed, and every wrong argument told with its mend."""

import ast
import importlib
import inspect
import subprocess
import sys
from collections.abc import Callable
from typing import Any

import numpy as np
import pandas as pd
import pytest

import jarcast
from jarcast import Habits, plan_harvest
from jarcast.recipes import shipped_recipes

pytestmark = pytest.mark.contract

CARROTS: dict[str, Any] = {"produce": "carrot", "cut": "sticks", "pack": "raw", "trimmed_g": 2700}


def test_every_public_name_is_listed_and_there_is() -> None:
    listed = dir(jarcast)
    assert {*jarcast.__all__, "errors", "learning", "recipes"} <= {*listed}
    assert all(getattr(jarcast, name) is not None for name in listed)
    learning = importlib.import_module("jarcast.learning")
    assert dir(learning) == sorted(learning.__all__)
    assert "ConjugateRegression" in dir(learning)


@pytest.mark.parametrize("package", ["jarcast", "jarcast.learning"])
def test_a_type_checker_sees_the_names_and_no_others(package: str) -> None:
    module = importlib.import_module(package)
    tree = ast.parse(inspect.getsource(module))
    seen = {
        alias.asname or alias.name
        for node in ast.walk(tree)
        if isinstance(node, ast.ImportFrom)
        for alias in node.names
    }
    assert {*module.__all__} <= seen
    # At run time names are looked up; a checker would take any name for one.
    assert not [n for n in tree.body if isinstance(n, ast.FunctionDef) and n.name == "__getattr__"]


def test_the_errors_are_there_without_an_import_of_their_own() -> None:
    ask = "import jarcast; jarcast.errors.JarcastError; jarcast.learning.load_beliefs"
    assert subprocess.run([sys.executable, "-c", ask], timeout=60).returncode == 0


WRONG: dict[str, Callable[[Habits], Any]] = {
    "learn: no file": lambda h: jarcast.learn("nowhere.csv"),
    "learn: a number": lambda h: jarcast.learn(5),
    "learn: other columns": lambda h: jarcast.learn({"a": [1]}),
    "learn: a text for beliefs": lambda h: jarcast.learn([], beliefs="club.json"),  # type: ignore[arg-type]
    "learn: a number for jars": lambda h: jarcast.learn([], shelf=3),  # type: ignore[arg-type]
    "learn: a text for yes": lambda h: jarcast.learn([], whole_jars="yes"),  # type: ignore[arg-type]
    "read_batches": lambda h: jarcast.read_batches(5),  # type: ignore[arg-type]
    "habits_from: a frame": lambda h: jarcast.habits_from(pd.DataFrame({"a": [1]})),  # type: ignore[arg-type]
    "plan: no habits": lambda h: plan_harvest(None, [CARROTS]),  # type: ignore[arg-type]
    "plan: a text": lambda h: plan_harvest(h, "plan.csv"),
    "plan: a line that is none": lambda h: plan_harvest(h, [5]),
    "plan: an empty frame": lambda h: plan_harvest(h, pd.DataFrame()),
    "plan: an odd column": lambda h: plan_harvest(h, pd.DataFrame([{**CARROTS, 3: 1}])),
    "forecast: so_far": lambda h: h.forecast(**CARROTS, so_far=3),
    "forecast: recipe": lambda h: h.forecast(**CARROTS, recipe="dilled-beans"),
    "forecast: draws": lambda h: h.forecast(**CARROTS, draws="many"),
    "forecast: seed": lambda h: h.forecast(**CARROTS, seed=1.5),
    "forecast: jar": lambda h: h.forecast(**CARROTS, jar=3),
    "forecast: weight": lambda h: h.forecast(produce="carrot", trimmed_g="2 kg"),  # type: ignore[arg-type]
    "brine_to_make": lambda h: h.forecast(**CARROTS).brine_to_make("0.05"),  # type: ignore[arg-type]
    "brine_to_make: units": lambda h: h.forecast(**CARROTS).brine_to_make(units="cups"),  # type: ignore[arg-type]
    "brine_for": lambda h: h.forecast(**CARROTS).brine_for("7"),  # type: ignore[arg-type]
    "pots": lambda h: h.forecast(**CARROTS).pots("7"),  # type: ignore[arg-type]
    "formula_for": lambda h: h.forecast(**CARROTS).formula_for("7"),  # type: ignore[arg-type]
    "jars_to_have": lambda h: h.forecast(**CARROTS).jars_to_have("0.05"),  # type: ignore[arg-type]
    "quantile": lambda h: h.forecast(**CARROTS).jars.quantile("half"),  # type: ignore[arg-type]
    "interval": lambda h: h.forecast(**CARROTS).jars.interval("80%"),  # type: ignore[arg-type]
    "hindsight": lambda h: jarcast.hindsight([], peers=("oracle",)),
    "learn: an odd last jar": lambda h: jarcast.learn([], last_jar="half"),
    "learn: a number for a last jar": lambda h: jarcast.learn([], last_jar=1),  # type: ignore[arg-type]
    "learn: two last jars": lambda h: jarcast.learn([], whole_jars=True, last_jar="whole"),
    "learn: an array for yes": lambda h: jarcast.learn([], whole_jars=np.array([True, False])),  # type: ignore[arg-type]
    "learn: NA for yes": lambda h: jarcast.learn([], whole_jars=pd.NA),  # type: ignore[arg-type]
    "learn: a number for a jar": lambda h: jarcast.learn([], shelf={"pint": 473}),  # type: ignore[dict-item]
    "learn: no jar": lambda h: jarcast.learn([], shelf={}),
    "learn: a jar of no size": lambda h: jarcast.learn(
        [], shelf={"x": jarcast.Jar("x", -1.0, 60.0)}
    ),
    "habits_from: beliefs": lambda h: jarcast.habits_from([], beliefs="x"),  # type: ignore[arg-type]
    "habits_from: yes": lambda h: jarcast.habits_from([], whole_jars="x"),  # type: ignore[arg-type]
    "habits_from: packed": lambda h: jarcast.habits_from([], packed=5),  # type: ignore[arg-type]
    "habits_from: shelf": lambda h: jarcast.habits_from([], shelf=5),  # type: ignore[arg-type]
    "forecast: draws of yes": lambda h: h.forecast(**CARROTS, draws=True),
    "forecast: a headspace of text": lambda h: h.forecast(
        recipe=shipped_recipes()["pickled-carrots"],
        trimmed_g=2700,
        headspace_in="half",  # type: ignore[arg-type]
    ),
    "forecast_together: None": lambda h: h.forecast_together(None),  # type: ignore[arg-type]
    "forecast_together: 5": lambda h: h.forecast_together(5),  # type: ignore[arg-type]
    "forecast_together: a text": lambda h: h.forecast_together("carrot"),  # type: ignore[arg-type]
    "forecast_together: draws": lambda h: h.forecast_together([], draws="x"),  # type: ignore[arg-type]
    "allow_short": lambda h: h.forecast(**CARROTS).allow_short("x"),  # type: ignore[arg-type]
    "counts": lambda h: h.forecast(**CARROTS).counts(9.0, 0.8),  # type: ignore[arg-type]
    "pack_check": lambda h: h.pack_check("x"),  # type: ignore[arg-type]
    "pack_check: units": lambda h: h.pack_check(h.forecast(**CARROTS), "cups"),
    "usual_cut": lambda h: h.usual_cut(None),  # type: ignore[arg-type]
    "usual_pack": lambda h: h.usual_pack(None, "sticks"),  # type: ignore[arg-type]
    "has_packed": lambda h: h.has_packed("carrot", "sticks", None),  # type: ignore[arg-type]
    "load_card": lambda h: jarcast.recipes.load_card(5),  # type: ignore[arg-type]
    "load_card: no file": lambda h: jarcast.recipes.load_card("card.toml"),
    "load_beliefs": lambda h: jarcast.learning.load_beliefs(None),  # type: ignore[arg-type]
    "load_beliefs: no file": lambda h: jarcast.learning.load_beliefs("club.json"),
}


@pytest.mark.parametrize("ask", WRONG.values(), ids=WRONG.keys())
def test_a_wrong_argument_is_one_of_jarcast_s_errors(
    ask: Callable[[Habits], Any], habits: Habits
) -> None:
    with pytest.raises(jarcast.errors.JarcastError) as refusal:
        ask(habits)
    assert len(str(refusal.value)) > 20


def test_a_harvest_may_be_a_frame_whose_empty_cells_say_nothing(habits: Habits) -> None:
    lines = [CARROTS, {"produce": "beet", "cut": "slices", "as_bought_g": 4000.0}]
    due = plan_harvest(habits, lines)
    table = pd.DataFrame(lines)
    assert table["trimmed_g"].isna().any()
    for asked in (
        table,
        table.to_dict("records"),
        table.astype(object).where(table.notna(), pd.NA),
    ):
        found = plan_harvest(habits, asked)
        assert (found.jars.draws == due.jars.draws).all()
    assert (plan_harvest(habits, tuple(lines)).brine_ml.draws == due.brine_ml.draws).all()


def test_an_empty_table_gives_the_starting_beliefs(beginner: Habits) -> None:
    found = jarcast.learn(pd.DataFrame(columns=["batch", "date", "produce", "jar", "jars"]))
    due = beginner.forecast(**CARROTS)
    assert (found.forecast(**CARROTS).jars.draws == due.jars.draws).all()
