"""A sheet of questions for a class, with its key: one HTML page to print"""
