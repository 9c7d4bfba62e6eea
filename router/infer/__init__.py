"""A person's drawing (segments with sizes) becomes a route."""
