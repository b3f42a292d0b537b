"""Where testimonies meet: weighing by subject."""
