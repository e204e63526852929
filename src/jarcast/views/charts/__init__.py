"""Charts for paper and screen, drawn with matplotlib, which is imported where it is used."""

from jarcast.views.charts.style import chart_bytes, drawing

__all__ = ["chart_bytes", "drawing"]
