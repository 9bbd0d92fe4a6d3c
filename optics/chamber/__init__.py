"""What gas is in my jar, and what does it make of a metal?"""

ANSWERS = {"chamber": ("result.ChamberState",)}

PUBLIC = (
    "chamber.chamber",
    "plots.plot_pressures",
    "result.ChamberState",
    "result.FlushEffect",
    "result.Inflow",
)
