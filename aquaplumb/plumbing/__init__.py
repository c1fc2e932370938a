"""Plumbing: all that water runs through, from a pump up the pipes and down the drains."""
