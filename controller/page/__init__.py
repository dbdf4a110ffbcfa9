"""The page on the wall: a small web server that shows a machine, in a process of its own.

Responsible for showing what the machine says over MQTT, and for passing on what a signed-in cook
asks for; not for what may be asked (link) nor for what it means (view). It never touches hardware.
"""
