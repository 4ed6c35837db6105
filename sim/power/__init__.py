"""Which rails are joined to which pole, in which setting, and what that means."""
