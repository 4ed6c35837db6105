"""The sheet to work from: numbered places, wires, order of work, tests before and after."""
