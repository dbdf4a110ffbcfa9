"""What other services need to work with us: units for systemd, a configuration for the broker."""
