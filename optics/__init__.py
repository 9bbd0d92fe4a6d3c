"""Thin-film optics, colour, growth and inference: the library behind the names of ``oxhue``."""

PUBLIC = ("errors.InputError",)

PUBLIC = ("errors.InputError",)
