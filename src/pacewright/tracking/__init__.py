"""Pixels become traces: clips are read, ball and head found and followed, a scale makes metres of them."""
