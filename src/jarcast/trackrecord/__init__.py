"""How forecasts did, and how habits moved over time."""
