"""The site: a request becomes a situation, a diagnosis becomes a page."""
