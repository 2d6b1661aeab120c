"""From answers and readings to evidence: facts for the rules, weights for the likelihoods."""
