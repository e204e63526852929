"""The plan of a harvest: its lines read from a file or typed, and what is left of it to do."""
