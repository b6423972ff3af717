"""a magnet that passes a coil: how it moves, the voltage, its peaks and the areas under them"""
