"""The local page: the same functions and the same files as the commands, in a browser."""
