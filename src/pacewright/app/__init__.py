"""The use cases: what the command line and the Python API ask for. No maths, no HTML."""
