"""What happened before: the case document and the consultations kept."""
