"""The report in a real browser: headless Chromium, from a file, with no network."""
