"""Documents, and how each face shows them."""

PUBLIC = ("strips.plot_ramp",)

PUBLIC = ("strips.plot_ramp",)
