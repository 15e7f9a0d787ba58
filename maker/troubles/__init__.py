"""What can befall the machine below the program, told apart and said in one sentence."""
