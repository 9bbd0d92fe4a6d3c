"""Which optical data are there, and from where?"""
