"""Values of every type where others are due: a short run of each target of ``typed_fuzz.py``."""

import subprocess
import sys
from pathlib import Path

import pytest

pytestmark = pytest.mark.xdist_group("alone")


def test_a_value_of_another_type_ends_in_an_answer_or_a_sentence() -> None:
    script = Path(__file__).with_name("typed_fuzz.py")
    ran = subprocess.run(
        [sys.executable, str(script), "--inputs", "200", "--seed", "3"],
        capture_output=True, text=True, timeout=120,
    )  # fmt: skip
    assert ran.returncode == 0, ran.stdout + ran.stderr
    assert "200 inputs" in ran.stdout
