"""The real circuit: volts and amps of rails, wires, supplies and motors."""
