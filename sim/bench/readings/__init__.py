"""What a meter, a lamp or a train said: readings, and the files that hold them."""
