"""Many batches at once: totals, what to buy, the day, and the plan they come from."""
