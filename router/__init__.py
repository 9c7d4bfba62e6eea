"""Branch Drop Router: how every sprinkler head leaves its line, with the fewest fittings.

The folders tell the pipeline: scenario, takeoffs and profiles, bounds and model,
route, check, deliver. A room imports only from rooms below it (DEVELOPERS.md).
"""

__version__ = "0.1.0"
