"""The page for the counter: the batch that is made just now, on a phone or a tablet.

It shows and asks; what it is told it does through the commands (``desk.Commands``), so that every
rule stands in one place. Flask, waitress and segno are loaded by ``jarcast serve`` alone.
"""
