"""What is kept, and by which rules. Knows no web."""
