"""Commands for a layout that is taken in hand: watch, verify, compare."""
