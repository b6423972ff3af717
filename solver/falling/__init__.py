"""a magnet that moves along the axis of a round coil: flux linked, with a core, and the brake of a tube"""
