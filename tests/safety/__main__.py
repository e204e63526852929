"""Run the long trials one after another, or those named: some two hours in all.

python -m tests.safety
python -m tests.safety crash aimed

Each prints its counts. It ends with 1 where one of them does not end well.
"""

import subprocess
import sys
from pathlib import Path

FOLDER = Path(__file__).resolve().parent
TRIALS = {
    "crash": ("--kills", "300", "--seed", "1"),
    "aimed": ("--kills", "300"),
    "pages": ("--trials", "20000", "--seed", "1"),
    "fuzz": ("--inputs", "200000", "--seed", "1"),
    "typed_fuzz": ("--minutes", "50", "--seed", "1"),
    "guards": (),
}


def main(named: list[str]) -> int:
    """Run them; gives the exit code."""
    if unknown := sorted(set(named) - set(TRIALS)):
        print(f"There is no trial {unknown[0]!r}. These are: {', '.join(TRIALS)}", file=sys.stderr)
        return 2
    failed = 0
    for name in named or TRIALS:
        print(f"== {name}", flush=True)
        command = [sys.executable, str(FOLDER / f"{name}.py"), *TRIALS[name]]
        failed |= subprocess.run(command, check=False).returncode
    return 1 if failed else 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
