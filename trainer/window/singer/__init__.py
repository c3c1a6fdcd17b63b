"""Singer: tonight's key, the set list, the warm-up."""
