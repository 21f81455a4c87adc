"""The design file, and the crops that come with the program."""
