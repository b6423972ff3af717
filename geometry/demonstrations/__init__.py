"""the cases of demonstrations that have one of their own, as frozen records"""
