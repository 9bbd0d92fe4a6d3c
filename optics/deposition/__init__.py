"""How films are deposited in vacuum: geometry, vapour, sources, and the gas of the chamber.

What the gas makes of a metal is one model for every source: :func:`.gas_balance.gas_balance` of a
:class:`.jar.Jar` and a :class:`.gas_balance.MetalFlow`. A pressure of residual gas alone is a jar
with ``base_mbar`` and no pump; a getter run is one behind the shutter, or ``getter_cm2`` after it.
"""

PUBLIC = (
    "alloys.Fraction",
    "arrival.Arrival",
    "gas_balance.Branch",
    "gas_balance.GasBalance",
    "gas_balance.MetalFlow",
    "gas_balance.gas_balance",
    "gases.OxideGate",
    "geometry.Coil",
    "geometry.Piece",
    "geometry.Placement",
    "geometry.Source",
    "geometry.Uniformity",
    "history.Flush",
    "history.History",
    "jar.Jar",
    "metal_run.MetalRun",
    "pump.Pump",
    "pump.Tube",
    "rise_test.GasInflow",
    "rise_test.RiseTest",
    "setup.Heater",
    "setup.Setup",
    "source_plan.SourcePlan",
    "source_plan.WirePlan",
    "source_plan.WireRow",
    "vapour.SourceTemperature",
    "wire.MeltingMargin",
)
