"""bainward's controller: the pure core and the shell around it."""
