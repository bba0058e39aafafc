"""What a book is: its parts, the phrases that compare, and reading it from YAML."""
