"""Planning a batch: formula, slab, pan loads and the day backwards from the plate."""
