"""Trials of the tool against worlds that it did not write. Nothing here is part of the package."""
