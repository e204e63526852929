"""Fitting the rows of a block of links: the regression, and EM around it."""
