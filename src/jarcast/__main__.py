"""``python -m jarcast``."""

from jarcast.cli import main

main()
