"""What a machine says of itself over MQTT, for whoever shows it: a page, a terminal.

Responsible for reading its topics and for the answers to a cook's questions; not for the way here
(link) nor for how it looks. All of it is pure: time and messages are handed in.
"""
