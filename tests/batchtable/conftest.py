"""What tests of the batch table share."""

from collections.abc import Callable
from pathlib import Path

import pytest


@pytest.fixture
def write(tmp_path: Path) -> Callable[[str | bytes], Path]:
    """Puts a CSV file there and gives its path."""

    def put(content: str | bytes) -> Path:
        path = tmp_path / "batches.csv"
        path.write_bytes(content.encode() if isinstance(content, str) else content)
        return path

    return put
