"""What is bought or gathered: the forms, which other forms open too."""
