"""Eddy currents of builds: sheets and steel bodies."""
