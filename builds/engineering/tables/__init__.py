"""Tables of the core: one CSV file each, with its source, edition, units and standing in header comments."""
