"""How time and memory grow with batches and households."""
