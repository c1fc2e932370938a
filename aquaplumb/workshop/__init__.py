"""What goes to the shed: parts, cuts, joints, drawings for paper and the build sheet."""
