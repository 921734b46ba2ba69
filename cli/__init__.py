"""The command line: commands, views and what they print. It computes no chemistry."""
