"""Every field of every JSON answer stands in the reference."""

import contextlib
import io
import json
import re
import shlex
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from jarcast.cli import main
from jarcast.files.shipped import shipped

from .pages import DOCS

pytestmark = pytest.mark.contract

TABLE = """batch,date,produce,cut,pack,jar,trimmed,cure_hours,jars,brine_made,brine_left
c1,2024-08-03,carrot,sticks,raw,pint,6 lb 4 oz,0,9.5,10 cups,1 1/2 cups
c2,2024-08-10,carrot,sticks,raw,pint,5 lb,0,7.5,8 cups,0 cups
c3,2024-08-17,carrot,sticks,raw,pint,5.5 kg,0,9,9 cups,12 cups
b1,2024-09-01,beet,slices,hot,pint,2700 g,0,6,6 cups,1 cup
"""
CARROTS = "--produce carrot --cut sticks --jar pint"
NO_WEIGHT = "forecast --produce carrot"
# In this order, on one ledger: each leaves what the next ones need.
COMMANDS = f"""
demo
import batches.csv
batches
forecast {CARROTS} --trimmed "5 lb"
forecast {CARROTS} --jars 7
forecast --recipe pickled-beets --altitude "900 ft" --as-bought "10 lb" --keep b2
{NO_WEIGHT}
record --batch b2 --produce beet --cut slices --jar pint --as-bought "10 lb" --jars 11
amend c2 jars=8
amend c2 trimmed --as-is
withdraw c2
undo c2
history c2
begin --batch c4 {CARROTS} --as-bought "8 lb"
weigh --trimmed "6 lb"
pack --jars 3 --produce-left "4 lb" --pot-left "7 cups" --brine-made "9 cups"
history c4
--units us
harvest plan.csv --have "30 pint" --bottle "1 gal" --price "vinegar=4.50 / 1 gal"
harvest plan.csv --canner "7 quarts / 8 pints"
close --jars 9 --brine-left "1 cup"
begin --batch c5 {CARROTS} --as-bought "8 lb"
drop --batch c5
buy 24 --produce carrot
habits
hindsight
forecast {CARROTS} --trimmed "5 lb" --sheet sheet.html
report report.html
recipes list
recipes show pickled-beets
recipes scale pickled-beets --brine "10 cups"
kitchen jars add "tall jar" --water "415 g"
kitchen jars list
record --batch k1 --produce cucumber --cut slices --jar pint --as-bought "1/2 bushel" --jars 11
batches --tally
export out.csv
beliefs pool batches.csv out.csv --to club.json --jobs 1
beliefs use club.json
beliefs show
kitchen --altitude "900 ft"
undo
undo
restore
"""


def keys(value: Any) -> Iterator[str]:
    """The name of every field, of every depth."""
    if isinstance(value, dict):
        for name, inside in value.items():
            yield name
            yield from keys(inside)
    elif isinstance(value, list):
        for inside in value:
            yield from keys(inside)


def answer(command: str) -> dict[str, Any]:
    """What a command says with --json; an error, where it says one."""
    out, err = io.StringIO(), io.StringIO()
    with (
        contextlib.redirect_stdout(out),
        contextlib.redirect_stderr(err),
        contextlib.suppress(SystemExit),
    ):
        main([*shlex.split(command), "--json"])
    said: dict[str, Any] = json.loads(out.getvalue() or err.getvalue())
    return said


@pytest.fixture
def kitchen(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A folder with a table and a plan in it, and no ledger yet."""
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("JARCAST_LEDGER", "ledger.sqlite3")
    monkeypatch.delenv("JARCAST_BELIEFS", raising=False)
    (tmp_path / "batches.csv").write_text(TABLE, encoding="utf-8")
    (tmp_path / "plan.csv").write_bytes(shipped("data_demo", "harvest-plan.csv").read_bytes())
    return tmp_path


def test_every_field_is_described(kitchen: Path) -> None:
    text = (DOCS / "reference" / "json.md").read_text(encoding="utf-8")
    table = (DOCS / "reference" / "batch-table.md").read_text(encoding="utf-8")
    described = set(re.findall(r"`([a-z_]+)`", text + table))
    missing: dict[str, set[str]] = {}
    for command in COMMANDS.strip().splitlines():
        said = answer(command)
        assert (said["format"] == "jarcast error") == (command == NO_WEIGHT), (command, said)
        fields = set(keys(said)) - described - {"format", "version"}
        if fields:
            missing.setdefault(said["format"], set()).update(fields)
    assert missing == {}
