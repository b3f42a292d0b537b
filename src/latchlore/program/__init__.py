"""The program witness: images, processor tables, execution and exploration."""
