"""What every form of the desk says."""

REFUSED = "This was not kept; what you typed is still below."
