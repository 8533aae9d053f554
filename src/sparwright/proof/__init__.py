"""Cutting simulation of programs as read, judged against the exact part. Never imports what it judges."""
