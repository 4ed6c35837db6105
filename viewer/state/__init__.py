"""What is to be shown at one moment: rails, levers, contacts, trains. Nothing is drawn."""
