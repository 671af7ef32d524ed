"""What Leafwalk says, and how it is said again in another language and other units."""
