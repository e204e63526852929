"""One batch forecast through the chain, and what to make; knows no files and no command line."""
