"""What a teacher carries into a room: the answer key, the pages on paper, and the plain pages that need no kernel."""
