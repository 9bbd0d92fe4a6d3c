"""What an eye or a camera sees: lights, observers, colour spaces and names in words."""

PUBLIC = (
    "colour.Colour",
    "colour.to_colour",
    "conditions.ViewingConditions",
)
