"""Boards with relays and thermometers that speak Modbus, RTU on a serial line or TCP."""
