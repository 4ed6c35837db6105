"""Where everything lies, in mm of the model: inside a piece, and on the ground."""
