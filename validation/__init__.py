"""Accuracy against published values and known truth; each module rewrites a table in docs/."""
