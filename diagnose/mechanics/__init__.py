"""The physics of a pendulum clock: formulas with their source; nothing here reads or writes."""
