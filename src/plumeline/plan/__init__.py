"""Plans: the text file that says what the top is and what goes where."""
