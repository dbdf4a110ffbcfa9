"""How the service manager starts, watches and ends the guard and a run."""
