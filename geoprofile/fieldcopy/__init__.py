"""Copies for the field, and how they come back."""
