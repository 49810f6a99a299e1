"""What the trade knows: pure, frozen, unit-aware."""
