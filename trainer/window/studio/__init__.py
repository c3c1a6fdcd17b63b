"""Between teacher and student: the studio, handing over, the page for a lesson."""
