"""What confirmed cases teach: pure functions of plain records, no database and no pages.

``recalibrating`` moves the words of the tables, ``reporting`` says how well the house did,
``mining`` and ``suggesting`` offer drafts to a person. Nothing changes a book by itself.
"""
