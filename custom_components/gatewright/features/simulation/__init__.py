"""A recorded time played through the core: what would have been, beside what was."""
