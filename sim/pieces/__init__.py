"""What an item of track is, electrically and along its routes."""
