"""Every way to serve a head: one file per style, each proposing candidates."""
