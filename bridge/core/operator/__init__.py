"""What operators tell: the words, and what each does."""
