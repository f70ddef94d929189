"""The demo's unit file, readings and steps: data only."""
