"""The ball from contact to rest: launch, skid and roll, green speed, slope, capture by the hole."""
