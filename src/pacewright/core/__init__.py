"""Types, units, errors and the registry of measures, on which everything else stands."""
