"""What is believed and recorded, as equations: links, effects, beliefs and rows."""
