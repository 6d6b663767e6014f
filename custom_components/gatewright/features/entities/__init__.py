"""Entity subjects (one per part) and descriptions (one type per platform)."""
