"""The board witness: parts, nets, decode and register map."""
