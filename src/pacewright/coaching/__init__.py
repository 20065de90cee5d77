"""From figures to decisions: findings, error budget, player model, station. Pure: numbers in, decisions out."""
