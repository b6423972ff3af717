"""demonstrations for a class: what is shown, told line by line, moved and written as columns"""
