"""What a teacher carries into a room: the answer key and the pages on paper."""
