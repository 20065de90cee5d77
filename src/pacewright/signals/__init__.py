"""Pure functions on arrays: filter, resample, differentiate."""
