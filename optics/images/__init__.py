"""Pictures, and colours read from them."""

PUBLIC = ("patches.Patch",)

PUBLIC = ("patches.Patch",)
