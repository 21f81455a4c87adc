"""What stake-outs and surveys hand to their products."""
