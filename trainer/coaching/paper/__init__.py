"""Pages for students: sheets, cards, the page for a lesson, the studio."""
