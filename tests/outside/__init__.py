"""Checks against what others have published: data sheets, handbook figures, reference libraries."""
