"""The version of the program, in one place: packaging, command line and result files read it here."""

__version__ = "0.1.0"
