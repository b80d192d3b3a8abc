"""What tests share: nights, oracles, judges, cases and strategies."""
