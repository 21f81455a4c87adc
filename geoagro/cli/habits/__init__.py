"""What all commands share: the name of the design, the folder for results, --quiet and --json."""
