"""A real machine through the interfaces of the Linux kernel: thermometers' files and GPIO lines."""
