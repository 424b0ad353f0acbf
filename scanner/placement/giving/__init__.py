"""Sizes that give: which size a part is made at, and what else gives way."""
