"""The tables of stages, links and columns: what follows from them, and that no place is forgotten.

A new stage is a line of STAGES, a line of FIELDS and its link's model. What stands elsewhere, as a
signature has to name each weight, is walked here, and what lists stages anew is found here.
"""

import ast
import datetime as dt
import inspect
import itertools
import math
from pathlib import Path

import pytest

import jarcast
from jarcast.cli.begin import begin
from jarcast.cli.forecast import forecast
from jarcast.cli.questions import QUESTIONS
from jarcast.cli.record import record
from jarcast.cli.weigh import weigh
from jarcast.domain.batch import Batch, number_problem
from jarcast.domain.contradictions import contradictions
from jarcast.domain.fields import (
    ALL_COLUMNS,
    FIELD_OF,
    FIELDS,
    KITCHEN,
    NUMBERS,
    TEXTS,
    Kind,
    typed_name,
)
from jarcast.domain.stages import (
    AS_BOUGHT,
    COOKED,
    CURED,
    HEAVIER_BY,
    STAGE_OF,
    STAGE_REACHED_BY,
    STAGES,
    TRIMMED,
    Link,
    Stage,
    before_salt,
    is_cooked,
    links_after,
    links_from,
    ready_stage,
    salt_share,
    too_heavy,
    was_salted,
    weighed,
    weights_of,
)
from jarcast.errors import cut_short
from jarcast.forecast.habits import Habits
from jarcast.harvest.plan.line import PlanLine
from jarcast.learning.model.beliefs import People, starting_beliefs
from jarcast.learning.model.effects import loadings
from jarcast.learning.model.links import WEIGHT_LINKS, Situation, centre
from jarcast.measures import Units
from jarcast.trackrecord.summary import _QUANTITIES
from jarcast.views.batches import batches_text, column_words
from jarcast.views.history import _word

SOURCE = Path(jarcast.__file__).resolve().parent
ONE = Batch(batch="1", date=dt.date(2024, 8, 31), produce="carrot", jar=("pint",), jars=(4.0,))


def with_weights(**weights: float) -> Batch:
    said = {name: getattr(ONE, name) for name in ("batch", "date", "produce", "jar", "jars")}
    return Batch(**said, **weights)  # type: ignore[arg-type]


def test_links_lead_from_stage_to_stage_in_the_order_of_the_chain() -> None:
    assert [stage.link for stage in STAGES] == [None, *list(Link)[: len(STAGES) - 1]]
    assert [*WEIGHT_LINKS] == [*STAGE_REACHED_BY, Link.PACK]
    assert [*Link] == [*WEIGHT_LINKS, Link.BRINE]


@pytest.mark.parametrize("stage", STAGES, ids=lambda stage: stage.typed)
def test_a_stage_has_its_column_reader_bound_and_labels(stage: Stage) -> None:
    field = FIELD_OF[stage.column]
    assert field.kind is Kind.WEIGHT
    assert field.read is not None
    assert field.read("1 lb") == pytest.approx(453.59237)  # NIST Handbook 44, appendix C
    assert KITCHEN[stage.typed] == stage.column
    assert typed_name(stage.column) == stage.typed == stage.label.replace(" ", "_")
    assert number_problem(stage.column, field.most) is None
    assert number_problem(stage.column, 1.01 * field.most)
    assert number_problem(stage.column, 0.0)  # nobody weighs nothing
    assert stage.label in column_words(stage.column)
    assert stage.label in _word(stage.column)
    assert stage.label in batches_text([ONE], Units.METRIC).splitlines()[0]


@pytest.mark.parametrize("stage", STAGES, ids=lambda stage: stage.typed)
def test_a_stage_can_be_said_wherever_weights_are(stage: Stage) -> None:
    assert stage.column in inspect.signature(Habits.forecast).parameters
    assert stage.column in Batch.__struct_fields__
    assert stage.column in PlanLine.__struct_fields__
    for command in (record, weigh, forecast, *([begin] if before_salt(stage.column) else [])):
        assert stage.typed in inspect.signature(command).parameters
    assert stage.typed in {question.column for question in QUESTIONS}


@pytest.mark.parametrize("link", [*STAGE_REACHED_BY])
def test_a_link_has_its_model(link: Link) -> None:
    beliefs = starting_beliefs()
    crop = beliefs.crop("cucumber", "slices", "hot")
    at = Situation(crop=crop, produce="cucumber", cut="slices", pack="hot")
    assert link in People.__struct_fields__
    assert math.isfinite(centre(link, at))
    assert loadings(link, at, beliefs.people)
    assert link in {known for known, *_ in _QUANTITIES}  # shown by 'jarcast habits'


def test_every_column_has_a_kind_a_bound_and_a_place_in_a_batch() -> None:
    assert {*ALL_COLUMNS} == {*Batch.__struct_fields__} - {"confirmed", "doubt"}
    assert {*ALL_COLUMNS} - {*NUMBERS, *TEXTS} == {"date", "jar", "jars"}
    for field in FIELDS:
        assert field.label
        assert field.most > 0
        assert (field.read is not None) == (field.column in NUMBERS), field.column
        assert field.column.endswith(f"_{field.unit}") or not field.unit or field.unit == "h"


def test_what_follows_from_the_chain() -> None:
    """Arithmetic by hand on the chain: as bought, trimmed, perhaps cured, perhaps cooked, jars."""
    cure_on = {Link.CURE, Link.COOK, Link.PACK, Link.BRINE}
    assert links_after(AS_BOUGHT) == (Link.TRIM, Link.CURE, Link.COOK)
    assert links_after(COOKED) == ()
    assert links_from(AS_BOUGHT) == {Link.TRIM}  # every batch passes trimmed: nothing skips it
    assert links_from(TRIMMED) == cure_on
    assert links_from(CURED) == cure_on - {Link.CURE}
    assert links_from(COOKED) == {Link.PACK, Link.BRINE}
    assert [before_salt(stage.column) for stage in STAGES] == [True, True, False, False]
    ready = itertools.product((False, True), (False, True))
    found = [ready_stage(salted=salted, cooked=cooked).column for salted, cooked in ready]
    assert found == [TRIMMED, COOKED, CURED, COOKED]


def test_what_a_batch_says_of_its_way() -> None:
    batch = with_weights(trimmed_g=1000.0, cured_g=800.0, salt_g=50.0)
    assert weighed(batch) == (STAGE_OF[TRIMMED], STAGE_OF[CURED])
    assert [*weights_of(batch).values()] == [None, 1000.0, 800.0, None]
    assert salt_share(batch) == 0.05
    assert was_salted(batch) is True
    assert was_salted(with_weights(cure_hours=0.0)) is False
    assert was_salted(ONE) is None
    assert not is_cooked(batch)
    assert is_cooked(with_weights(cooked_g=700.0))


@pytest.mark.parametrize(("earlier", "later"), [*itertools.combinations(STAGES, 2)])
def test_any_later_stage_may_be_heavier_by_the_one_allowance(earlier: Stage, later: Stage) -> None:
    fine = {earlier.column: 1000.0, later.column: 1000.0 * HEAVIER_BY - 1.0}
    slip = {earlier.column: 1000.0, later.column: 1000.0 * HEAVIER_BY + 1.0}
    assert not too_heavy(fine[later.column], 1000.0)
    assert not contradictions(with_weights(**fine))
    (flag,) = contradictions(with_weights(**slip))
    assert flag.columns == (earlier.column, later.column)


def test_a_text_is_cut_to_its_length_and_marked() -> None:
    assert cut_short("a" * 60) == "a" * 60
    assert cut_short("a" * 61) == "a" * 57 + "..."
    assert cut_short("abcdef", 5) == "ab..."


# Where two or more stages are listed outside the table: what a signature names one by one.
LISTED = {
    "cli/begin.py": "its options",
    "cli/record.py": "its options",
    "cli/weigh.py": "its options",
    "forecast/habits.py": "the keywords of Habits.forecast",
}
_WORDS = {word for stage in STAGES for word in (stage.column, stage.typed, stage.label)}


def _lists_stages(path: Path) -> bool:
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        if isinstance(node, ast.Dict):
            parts = [part for part in node.keys if part is not None]
        elif isinstance(node, ast.Tuple | ast.List | ast.Set):
            parts = node.elts
        else:
            continue
        said = {part.value for part in parts if isinstance(part, ast.Constant)}
        if len(said & _WORDS) > 1:
            return True
    return False


def test_stages_are_listed_in_their_table_alone() -> None:
    names = {path: path.relative_to(SOURCE).as_posix() for path in SOURCE.rglob("*.py")}
    # The demo's generator, which an installed package holds too, writes rows and reads no table.
    own = {path: name for path, name in names.items() if not name.startswith("shipped_data/")}
    assert {name for path, name in own.items() if _lists_stages(path)} == {*LISTED}


def test_the_allowance_and_the_cut_stand_once() -> None:
    texts = {p.relative_to(SOURCE).as_posix(): p.read_text("utf-8") for p in SOURCE.rglob("*.py")}
    assert {name for name, text in texts.items() if "longest - 3]" in text} == {"errors.py"}
    assert not {name for name, text in texts.items() if "[:57]" in text or "[:37]" in text}
    assert not {name for name, text in texts.items() if " 1.05 *" in text}
    assert {name for name, text in texts.items() if "HEAVIER_BY" in text} == {"domain/stages.py"}
