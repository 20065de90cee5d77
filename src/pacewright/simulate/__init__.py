"""Strokes and players with known truth, for demo, tests and validation."""
