"""Pages and how they are drawn: with rich on a terminal, as lines in a pipe, or plainly for a screen reader."""
