"""The design: the file's schema, body sets, link kinds, exact kinematics and geometry."""
