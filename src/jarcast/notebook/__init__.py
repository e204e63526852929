"""A person's own notebook: lines as one says them, read to the values of batches."""
