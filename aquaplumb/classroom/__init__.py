"""A room of learners at one laptop's Wi-Fi: the walk's pages in their browsers, and the teacher's board."""
