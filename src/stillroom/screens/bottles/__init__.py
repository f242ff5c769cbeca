"""The bottles: the list, one bottle, and the forms about them."""
