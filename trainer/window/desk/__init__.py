"""The Desk: what to play today, the shelf, and what is made from the piece chosen there."""
