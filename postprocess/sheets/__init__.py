"""sheets to take along: a coil for the winding machine, a setting for the instrument; HTML to print"""
