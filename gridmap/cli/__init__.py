"""The command line: a file a command; each parses, calls one library function and prints."""
