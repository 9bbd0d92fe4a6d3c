"""How thick is it at every pixel of a photo?"""

ANSWERS = {"map": ("result.FieldMap",)}

PUBLIC = (
    "map_files.write_map",
    "places.KnownPlace",
    "places.parse_known_place",
    "photo.map_photo",
    "plots.plot_field",
    "plots.plot_histogram",
    "plots.plot_profile",
    "result.FieldMap",
)
