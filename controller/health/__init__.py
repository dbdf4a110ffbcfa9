"""Whether computer, service, devices and proofs are fit for a run: looked at, nothing changed."""
