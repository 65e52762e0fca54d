"""Figures: records in, a plotly figure and a sentence that says the same out."""
