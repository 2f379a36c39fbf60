"""Rules about rules: small named checks that ask whether the knowledge as a whole makes sense."""

from diagnose.review.checks import CHECKS, Check, Remark, Severity, review

__all__ = ["CHECKS", "Check", "Remark", "Severity", "review"]
