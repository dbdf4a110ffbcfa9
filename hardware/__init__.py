"""What the controller's ports are attached to: today the bench, later kernel and Modbus drivers."""
