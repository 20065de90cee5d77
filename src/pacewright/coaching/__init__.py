"""From figures to decisions: findings, player model, station. Pure: numbers in, decisions out."""
