"""The system check: runs it, keeps its report, and applies what it found."""
