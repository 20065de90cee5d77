"""The ball: contact, skid and roll, green speed, capture by the hole. One file a model or phenomenon."""
