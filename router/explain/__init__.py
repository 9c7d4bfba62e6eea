"""Why a route is as it is: other ways, what binds a run's profile, what would make a head work."""
