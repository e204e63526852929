"""Pages of HTML, each whole in itself: the kitchen sheet and the notebook."""
