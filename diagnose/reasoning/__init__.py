"""From findings and evidence to chances, the next question, and the first remedy.

Pure functions of a book and of what is known; no experta, no page, no database.
"""
