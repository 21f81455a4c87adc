"""Options side by side: table, data and one page with charts and small maps."""
