"""Water on the laid-out field: where it gathers, what rows hold or lead, and what a careful adviser would ask."""
