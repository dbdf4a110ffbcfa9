"""The MQTT link: tells the world, takes plain wishes, and never touches control."""
