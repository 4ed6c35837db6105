"""A whole layout, assembled: nodes, elements, routes, levers, trains and orders."""
