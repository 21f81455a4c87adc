"""Which ground may be planted, and why the rest may not."""
