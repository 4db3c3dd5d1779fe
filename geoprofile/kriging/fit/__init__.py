"""Fitting the parameters of a model, and judging it by held-out boreholes."""
