"""What is dangerous by its name: words in notes and labels, poisonous seeds, animal proteins, figures far off."""
