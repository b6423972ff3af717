"""a toothed wheel that turns past a sensor: its voltage over time, speed and gap, and the lines of its field"""
