"""Which optical data are there, and from where?"""

ANSWERS = {"materials": ("result.DataSets",)}

PUBLIC = (
    "plots.plot_extinction",
    "plots.plot_index",
)
