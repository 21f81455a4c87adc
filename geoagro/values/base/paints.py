"""The colours of the ground and what stands on it, shared by files, pictures and the small map of values."""

FIELD_INK = "#20262b"
PLANTABLE = "#f7f3e3"
UNPLANTED_PAINT = "#c9ccd1"
PATH = "#fff9ea"
BED = "#e6b67a"
TREE_BED = "#64908a"
ROW = "#08201f"
