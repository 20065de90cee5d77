"""Rendered clips with known truth, and how well they are measured."""
