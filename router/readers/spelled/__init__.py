"""Numbers, lengths, sizes, K-factors and kinds as people write them, in tables and in drawings alike."""
