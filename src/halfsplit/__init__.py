"""halfsplit: from the schematic and the bench readings to the part that failed."""

__version__ = "0.1.0"
