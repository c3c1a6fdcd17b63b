"""Rounds of practice: how a take comes about, and what is learnt from it. Draws nothing."""
