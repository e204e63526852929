"""jarcast pool, and jarcast beliefs."""

import contextlib
import datetime as dt
import json
import os
import pickle
import signal
import subprocess
import sys
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from jarcast.learning.model.beliefs import load_beliefs, starting_beliefs
from jarcast.ledger import Ledger
from jarcast.pooling.files import pool_files

Run = Callable[..., Any]
HEADER = (
    "batch,date,produce,cut,pack,jar,as_bought_g,trimmed_g,cure_hours,jars,brine_made_ml,"
    "brine_left_ml"
)


def export(path: Path, number: int, batches: int = 10) -> Path:
    """A kitchen that packs carrots denser, and okra looser, than published."""
    rows = [HEADER]
    for i in range(batches):
        produce, cut, density = (("carrot", "sticks", 0.72), ("okra", "whole", 0.45))[i % 2]
        bought = 3000 + 100 * ((7 * i + 3 * number) % 13)
        trimmed = round(bought * (0.80 + 0.005 * ((i + number) % 7)))
        jars = round(2 * trimmed / (density + 0.01 * (number % 3)) / 437) / 2
        date = dt.date(2023, 6, 1) + dt.timedelta(days=i)
        made = round(jars * 300)
        rows.append(f"b{i},{date},{produce},{cut},raw,pint,{bought},{trimmed},0,{jars},{made},100")
    path.write_text("\n".join(rows) + "\n", encoding="utf-8")
    return path


@pytest.fixture
def exports(kitchen: Path) -> list[str]:
    return [export(kitchen / f"house{n:02d}.csv", n).name for n in range(20)]


@pytest.fixture
def few(exports: list[str]) -> list[str]:
    """As many as it takes where it does not matter how many there are."""
    return exports[:6]


@pytest.fixture(scope="module")
def pooled(tmp_path_factory: pytest.TempPathFactory) -> bytes:
    """A beliefs file of twenty kitchens."""
    folder = tmp_path_factory.mktemp("pooled")
    pool_files([export(folder / f"{n}.csv", n) for n in range(20)], folder / "club.json", jobs=1)
    return (folder / "club.json").read_bytes()


@pytest.fixture
def club(pooled: bytes, kitchen: Path) -> Path:
    """That file, beside the ledger."""
    path = kitchen / "club.json"
    path.write_bytes(pooled)
    return path


def test_pooled_beliefs_move_to_where_the_kitchens_are(
    run: Run, exports: list[str], kitchen: Path
) -> None:
    ran = run("beliefs", "pool", *exports, "--to", "club.json", "--jobs", "1")
    assert (ran.code, ran.err) == (0, "")
    assert "20 households and 200 batches" in " ".join(ran.out.split())
    assert max(len(line) for line in ran.out.splitlines()) <= 80
    before, after = starting_beliefs(), load_beliefs(kitchen / "club.json")
    # All kitchens pack carrots at 0.72 to 0.74 g/ml and okra at 0.45 to 0.47.
    carrot, okra = ("carrot", "sticks", "raw"), ("okra", "whole", "raw")
    for crop, true in ((carrot, 0.73), (okra, 0.46)):
        was, now = before.crop(*crop).density, after.crop(*crop).density
        assert abs(now.centre - true) < 0.5 * abs(was.centre - true)
        assert now.spread < was.spread
    # Only what moved is listed as moved.
    moved = [line.split(" -> ") for line in ran.out.splitlines() if " -> " in line]
    assert moved
    assert all(one.split()[-1] != other.split()[0] for one, other in moved)


def test_one_household_that_tells_anything_is_too_few(
    run: Run, exports: list[str], kitchen: Path
) -> None:
    (kitchen / "bare.csv").write_text(f"{HEADER}\nb1,2023-06-01,okra,,,pint,,,,5,,\n")
    ran = run("beliefs", "pool", exports[0], "bare.csv", "--to", "club.json", "--jobs", "1")
    assert (ran.code, ran.out) == (1, "")
    assert "only 1 of the households given tells anything" in " ".join(ran.err.split())


def test_json_counts_its_evidence(run: Run, exports: list[str]) -> None:
    document = run(
        "beliefs", "pool", *exports, "--to", "club.json", "--jobs", "1", "--json"
    ).document
    assert (document["format"], document["version"]) == ("jarcast pool", 1)
    assert (document["households"], document["batches"]) == (20, 200)
    change = document["changes"][0]
    assert (change["households"], change["batches"]) == (20, 100)
    assert change["published"] != change["pooled"]


@pytest.mark.xdist_group("alone")
def test_processes_give_the_same_file_as_one(run: Run, few: list[str], kitchen: Path) -> None:
    for jobs in ("1", "2"):
        assert run("beliefs", "pool", *few, "--to", f"{jobs}.json", "--jobs", jobs).code == 0
    assert (kitchen / "1.json").read_bytes() == (kitchen / "2.json").read_bytes()


@pytest.mark.filterwarnings("ignore")  # Dask's own, on sockets and ports
@pytest.mark.xdist_group("alone")
def test_a_dask_cluster_gives_the_same_file_as_one_process(few: list[str], kitchen: Path) -> None:
    distributed = pytest.importorskip("distributed")
    with distributed.LocalCluster(
        n_workers=2, threads_per_worker=1, dashboard_address=None
    ) as cluster:
        paths = [kitchen / name for name in few]
        pool_files(paths, kitchen / "cluster.json", scheduler=cluster.scheduler_address)
        pool_files(paths, kitchen / "alone.json", jobs=1)
    assert (kitchen / "cluster.json").read_bytes() == (kitchen / "alone.json").read_bytes()


def test_every_file_that_cannot_be_taken_is_named_and_nothing_is_written(
    run: Run, exports: list[str], kitchen: Path
) -> None:
    (kitchen / "bad.csv").write_text(f"{HEADER}\nb1,2023-06-31,okra,,,pint,,,,5,,\n")
    (kitchen / "empty.csv").write_text(HEADER + "\n")
    ran = run(
        "beliefs",
        "pool",
        *exports,
        "bad.csv",
        "empty.csv",
        "gone.csv",
        "--to",
        "c.json",
        "--jobs",
        "1",
    )
    assert (ran.code, ran.out) == (1, "")
    assert ran.err.startswith("jarcast: 3 of 23 files cannot be used; nothing was written:\n")
    for named in ("bad.csv, line 2, date '2023-06-31'", "empty.csv has", "no file gone.csv"):
        assert named in ran.err
    assert not (kitchen / "c.json").exists()


@pytest.mark.parametrize(
    ("typed", "says"),
    [
        (("house00.csv",), "at least 2"),
        (("house00.csv", "house00.csv"), "given twice"),
        (("house00.csv", "copy.csv"), "exactly the same batches as house00.csv"),
        (("house00.csv", "house01.csv", "--to", "house01.csv"), "one of the exports"),
        (("house00.csv", "house01.csv", "--to", "nowhere/c.json"), "no folder nowhere"),
        (("house00.csv", "house01.csv", "--to", "."), "is a folder"),
        (("house00.csv", "house01.csv", "--backend", "dask"), "--scheduler ADDRESS"),
        (("house00.csv", "house01.csv", "--scheduler", "tcp://x:1"), "--backend dask"),
    ],
)
def test_what_cannot_be_pooled_is_said(
    run: Run, exports: list[str], kitchen: Path, typed: tuple[str, ...], says: str
) -> None:
    (kitchen / "copy.csv").write_bytes((kitchen / "house00.csv").read_bytes())
    before = (kitchen / "house01.csv").read_bytes()
    ran = run("beliefs", "pool", *typed, "--jobs", "1")
    assert (ran.code, ran.out) == (1, "")
    assert says in " ".join(ran.err.split())
    assert not list(kitchen.glob("*.json"))
    assert (kitchen / "house01.csv").read_bytes() == before


def test_a_jar_of_ones_own_is_to_be_left_out_as_measuring_it_here_does_not_help(
    run: Run, exports: list[str], kitchen: Path
) -> None:
    """A pool looks at no household's shelf: what the own jar holds stands in no export."""
    run("kitchen", "jars", "add", "tall", "--water", "500 g")
    with (kitchen / exports[0]).open("a") as file:
        file.write("t1,2025-07-19,okra,whole,raw,tall,,1500,0,6,,\n")
    ran = run("beliefs", "pool", *exports, "--to", "club.json", "--jobs", "1")
    said = " ".join(ran.err.split())
    assert ran.code == 1
    assert "there is no jar 'tall'" in said
    assert "leave its batches out of the file" in said
    assert "kitchen jars add" not in said


def test_a_file_that_was_there_is_kept_when_pooling_fails(
    run: Run, exports: list[str], kitchen: Path
) -> None:
    (kitchen / "club.json").write_text("dear to me")
    assert (
        run("beliefs", "pool", "house00.csv", "gone.csv", "--to", "club.json", "--jobs", "1").code
        == 1
    )
    assert (kitchen / "club.json").read_text() == "dear to me"


@pytest.mark.skipif(os.name != "posix", reason="process groups and pseudo-terminals are POSIX's")
@pytest.mark.parametrize("jobs", ["1", "2"])
@pytest.mark.xdist_group("alone")
def test_an_interrupt_leaves_nothing_half_written(kitchen: Path, jobs: str) -> None:
    names = [export(kitchen / f"big{n}.csv", n, batches=500).name for n in range(80)]
    ours, theirs = os.openpty()
    with subprocess.Popen(
        [
            sys.executable,
            "-m",
            "jarcast",
            "beliefs",
            "pool",
            *names,
            "--to",
            "club.json",
            "--jobs",
            jobs,
        ],
        stdout=subprocess.PIPE,
        stderr=theirs,
        start_new_session=True,
    ) as process:
        os.close(theirs)
        seen = b""
        until = time.monotonic() + 60
        while b"pooling [" not in seen and time.monotonic() < until:
            seen += os.read(ours, 4096)
        os.killpg(process.pid, signal.SIGINT)  # as a terminal does
        out = process.communicate(timeout=60)[0]
    with contextlib.suppress(OSError):  # the other end is closed
        while more := os.read(ours, 4096):
            seen += more
    os.close(ours)
    assert process.returncode != 0
    assert out == b""
    last = seen.decode().replace("\r\n", "\n").rsplit("\r", 1)[-1]
    assert last == "jarcast: stopped; nothing half-done was written\n"
    assert not list(kitchen.glob("*.json")) + list(kitchen.glob(".*.part"))


def test_beliefs_are_chosen_and_remembered(run: Run, club: Path, kitchen: Path) -> None:
    assert run("beliefs", "show", "--json").document["file"] is None
    ran = run("beliefs", "use", "club.json")
    assert ran.code == 0
    assert "published yields and 20 households" in " ".join(ran.out.split())
    found = run("beliefs", "show", "--json").document
    copy = Path(found["file"])
    assert copy.read_bytes() == (kitchen / "club.json").read_bytes()
    assert copy.parent.name.endswith(".beliefs")  # beside the ledger
    assert found["chosen_by"] == "jarcast beliefs use"
    assert run("beliefs", "use", "shipped").code == 0
    assert run("beliefs", "show", "--json").document["file"] is None


def test_the_environment_has_the_first_word(
    run: Run, club: Path, kitchen: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("JARCAST_BELIEFS", "club.json")
    found = run("beliefs", "show", "--json").document
    assert (found["file"], found["chosen_by"]) == ("club.json", "JARCAST_BELIEFS")


class _Trap:
    def __reduce__(self) -> tuple[Any, ...]:
        return os.mkdir, ("sprung",)


@pytest.mark.parametrize(
    ("content", "says"),
    [
        (pickle.dumps(_Trap()), "is not a beliefs file"),
        (b'{"format": "jarcast habits"}', "is not a file of 'jarcast starting beliefs'"),
        (json.dumps({"format": "jarcast starting beliefs", "version": 9}).encode(), "version 9"),
    ],
)
def test_what_is_no_beliefs_file_is_refused_and_never_run(
    run: Run, kitchen: Path, content: bytes, says: str
) -> None:
    (kitchen / "club.json").write_bytes(content)
    ran = run("beliefs", "use", "club.json")
    assert (ran.code, ran.out) == (1, "")
    assert says in " ".join(ran.err.split())
    assert not (kitchen / "sprung").exists()
    assert run("beliefs", "show", "--json").document["file"] is None


def test_beliefs_that_are_gone_say_how_to_go_back(run: Run, club: Path, kitchen: Path) -> None:
    run("beliefs", "use", "club.json")
    Path(run("beliefs", "show", "--json").document["file"]).unlink()
    ran = run("beliefs", "show")
    assert ran.code == 1
    assert "'jarcast beliefs use shipped' goes back to the published ones" in ran.err


CARROTS = ("forecast", "--produce", "carrot", "--cut", "sticks", "--trimmed", "5 lb", "--json")


def test_the_file_may_be_moved_once_it_is_in_use(run: Run, club: Path, kitchen: Path) -> None:
    published = run(*CARROTS).document["jars"]
    run("beliefs", "use", "club.json")
    pooled = run(*CARROTS).document["jars"]
    assert pooled != published
    (kitchen / "club.json").rename(kitchen / "elsewhere.json")
    assert run(*CARROTS).document["jars"] == pooled
    (kitchen / "elsewhere.json").write_text("another thing altogether")
    assert run(*CARROTS).document["jars"] == pooled
    assert run("beliefs", "use", "shipped").code == 0
    assert run(*CARROTS).document["jars"] == published
    assert run("undo").code == 0
    assert run(*CARROTS).document["jars"] == pooled


def test_a_ledger_that_remembers_a_file_by_its_path_reads_it_there(
    run: Run, club: Path, kitchen: Path, ledger: Path
) -> None:
    run("beliefs", "use", "shipped")
    with Ledger.open(ledger, writing=True) as opened, opened.writing("setting"):
        opened.remember("beliefs", str((kitchen / "club.json").resolve()))
    found = run("beliefs", "show", "--json").document
    assert found["file"] == str((kitchen / "club.json").resolve())


def test_what_a_household_gains_is_told_by_leaving_it_out(run: Run, exports: list[str]) -> None:
    pool = ("beliefs", "pool", *exports, "--to", "club.json", "--jobs", "1")
    gains = {one["outcome"]: one for one in run(*pool, "--json").document["gains"]}
    # All pack carrots a fifth denser than published and alike: jars must be forecast better.
    assert gains["jars"]["households"] == len(exports)
    assert gains["jars"]["low"] < gains["jars"]["ratio"] < gains["jars"]["high"] < 1.0
    assert gains["jars"]["told"]
    assert "Tested by leaving 20 households out" in " ".join(run(*pool).out.split())


def test_households_that_differ_as_they_like_are_told_to_gain_nothing(
    run: Run, kitchen: Path
) -> None:
    names = []
    # From 1.5 times as many jars of a weight down to 0.6 times: no two of them pack alike.
    for n, factor in enumerate((0.6, 1.5, 0.75, 1.3, 0.9, 1.15)):
        name = f"odd{n}.csv"
        header, *rows = export(kitchen / name, n).read_text().splitlines()
        cells = [row.split(",") for row in rows]
        for row in cells:
            row[9] = str(round(2 * float(row[9]) * factor) / 2)
        lines = [header, *(",".join(row) for row in cells)]
        (kitchen / name).write_text("\n".join(lines) + "\n")
        names.append(name)
    pool = ("beliefs", "pool", *names, "--to", "club.json", "--jobs", "1")
    gains = run(*pool, "--json").document["gains"]
    assert gains
    assert not any(one["told"] for one in gains)
    assert "gain nothing" in " ".join(run(*pool).out.split())


def test_too_few_households_are_said_to_be_too_few_to_try(run: Run, exports: list[str]) -> None:
    pool = ("beliefs", "pool", *exports[:2], "--to", "club.json", "--jobs", "1")
    assert "cannot be tested with fewer than 3 households" in " ".join(run(*pool).out.split())
    assert run(*pool, "--json").document["gains"] == []


def test_ones_own_last_batch_is_forecast_before_and_after(run: Run, few: list[str]) -> None:
    pool = ("beliefs", "pool", *few, "--to", "club.json", "--jobs", "1", "--json")
    assert run(*pool).document["own_next"] is None  # an empty ledger
    assert run("record", "--produce", "carrot", "--cut", "sticks", "--pack", "raw", "--jar", "pint",
               "--trimmed", "2500 g", "--cure-hours", "0", "--jars", "8").code == 0  # fmt: skip
    own = run(*pool).document["own_next"]
    assert (own["produce"], own["stage"], own["grams"]) == ("carrot", "trimmed_g", 2500)
    before, after = own["before"]["jars"], own["after"]["jars"]
    # 2,500 g at the 0.72 to 0.74 g/ml that all pack at fill 7.7 to 7.9 pints of 437 ml.
    assert after["low"] <= 7.8 <= after["high"]
    assert after["high"] - after["low"] < before["high"] - before["low"]
    assert "Your own last batch once more" in run(*pool[:-1]).out


def test_ones_own_export_in_the_pool_does_not_count_twice(
    run: Run, few: list[str], kitchen: Path
) -> None:
    pool = ("beliefs", "pool", "--to", "club.json", "--jobs", "1", "--json")
    assert run("import", few[0]).code == 0
    without = run(*pool, *few[1:]).document["own_next"]
    again = run(*pool, *few).document["own_next"]
    assert without is not None
    assert again == without
    assert run(*pool, *few[:-1]).document["own_next"] != without  # other kitchens do count


def test_the_published_beliefs_go_by_either_name(run: Run, kitchen: Path) -> None:
    for word in ("published", "shipped"):
        assert run("beliefs", "use", word).code == 0
        assert run("beliefs", "show", "--json").document["file"] is None


def test_processes_that_were_started_in_another_folder_find_the_files(
    run: Run, few: list[str], kitchen: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    assert run("beliefs", "pool", *few, "--to", "one.json", "--jobs", "2").code == 0
    elsewhere = tmp_path / "elsewhere"
    elsewhere.mkdir()
    for name in few:
        (kitchen / name).rename(elsewhere / name)
    monkeypatch.chdir(elsewhere)
    assert run("beliefs", "pool", *few, "--to", "two.json", "--jobs", "2").code == 0
    assert (elsewhere / "two.json").read_bytes() == (kitchen / "one.json").read_bytes()
