"""The coach's desk in the browser, and the player's page. Asks `app` for everything; computes nothing."""
