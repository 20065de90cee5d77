"""Strokes found in a recording, their events and their measures with uncertainty: one file a method."""
