"""The colours of the ground and what stands on it, shared by files, pictures and the small map of values."""

FIELD_INK = "#20262b"
PLANTABLE = "#f7f3e3"
UNPLANTED_PAINT = "#c9ccd1"
PATH = "#f6ecd2"
BED = "#e0a458"
TREE_BED = "#1f5c5a"
ROW = "#08201f"
