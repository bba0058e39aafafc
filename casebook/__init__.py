"""What cooks told and what came of it: the only package that speaks SQL."""
