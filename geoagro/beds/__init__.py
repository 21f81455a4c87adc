"""Tree beds, vegetable beds and paths between the rows."""
