"""Files: where shipped data lives, and a file written whole or not at all."""
