"""From findings to causes: findings, rules, ranking, next step, explanation."""
