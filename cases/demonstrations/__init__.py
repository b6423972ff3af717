"""Demonstrations for a class, computed: `demonstrate(name, …)`"""
