"""Predictions from a fitted model: cells, simulations, mixtures."""
