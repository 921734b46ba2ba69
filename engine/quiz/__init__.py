"""Self-quiz: questions made from the reference table and the rules, replies to guesses, certainty, and spaced practice."""
