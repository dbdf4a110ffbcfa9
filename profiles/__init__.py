"""Data only: the shipped profiles, one TOML file each. The package exists so that they install."""
