"""Writing: finished values into files, beside the old ones, then moved into place."""
