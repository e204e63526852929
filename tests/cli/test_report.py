"""jarcast report: one page of everything, and what a long history leaves out."""

from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from jarcast.cli import report as report_module
from jarcast.views.pages import report as report_page_module

Run = Callable[..., Any]


def page(kitchen: Path, name: str = "jarcast-report.html") -> str:
    return (kitchen / name).read_text(encoding="utf-8")


def test_it_holds_habits_record_charts_and_batches(run: Run, filled: Path, kitchen: Path) -> None:
    ran = run("report")
    assert (ran.code, ran.err) == (0, "")
    assert "jarcast-report.html" in ran.out
    found = page(kitchen)
    for due in (
        "Carrot, sticks, raw pack",
        "How forecasts did",
        "<svg",
        "first of the year",
        "4 batches",
    ):
        assert due in found


def test_with_no_batches_it_is_a_whole_page(run: Run, kitchen: Path) -> None:
    assert run("report", "empty.html").code == 0
    assert page(kitchen, "empty.html").rstrip().endswith("</html>")


def test_a_long_history_is_replayed_only_when_asked(
    run: Run, filled: Path, kitchen: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(report_module, "LONG", 3)
    assert run("report", "--json").document["replayed"] is False
    assert "it was not replayed for this page" in page(kitchen)
    assert run("report", "--replay", "--json").document["replayed"] is True
    assert "The history replayed, one step ahead" in page(kitchen)


def test_forecasts_that_were_kept_are_on_it(run: Run, filled: Path, kitchen: Path) -> None:
    run("forecast", "--produce", "okra", "--trimmed", "2 lb", "--keep", "okra of Friday")
    run("report")
    assert "okra of Friday" in page(kitchen)


def test_a_long_history_lists_its_latest_batches_and_says_so(
    run: Run, filled: Path, kitchen: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(report_page_module, "LISTED", 3)
    assert run("report").code == 0
    found = page(kitchen)
    assert found.count('class="name"') == 3
    assert "The latest 3 of 4 batches are listed" in found


def test_units_are_the_kitchen_s(run: Run, filled: Path, kitchen: Path) -> None:
    run("report", "--units", "metric")
    assert "2.27 kg trimmed" in page(kitchen)  # 5 lb of 453.59237 g (NIST Handbook 44)
    run("report", "--units", "us")
    assert "5 lb trimmed" in page(kitchen)


@pytest.mark.parametrize("name", ["batches.csv", "report.txt"])
def test_no_other_file_is_overwritten(run: Run, filled: Path, kitchen: Path, name: str) -> None:
    ran = run("report", name)
    assert (ran.code, ran.out) == (1, "")
    assert ".html or .htm" in ran.err
    assert (kitchen / "batches.csv").read_text(encoding="utf-8").startswith("batch,date")
