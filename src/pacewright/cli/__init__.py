"""The command line: it reads options, asks `app`, and prints."""
