"""Two or more judged routes side by side."""
