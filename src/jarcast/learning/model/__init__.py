"""What is believed and written down, as equations: links, effects, beliefs and rows."""
