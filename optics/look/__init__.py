"""What does this coating look like?"""

ANSWERS = {"look": ("result.Look",)}

PUBLIC = (
    "look.look",
    "plots.plot_colours",
    "plots.plot_reflectance",
    "plots.plot_spectrum",
    "result.Look",
)
