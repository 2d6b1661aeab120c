"""Likelihoods: from knowledge on a profile to a ranking of causes at places."""
