"""The local page: a job beside its file while it is edited. Loopback only; see `guard` for what is let in."""
