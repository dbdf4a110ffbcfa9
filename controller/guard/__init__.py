"""The guard: heat that needs permission. Standard library only, besides the line driver."""
