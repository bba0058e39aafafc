"""The lints: what a book must satisfy beyond being readable, one small class each."""
