"""What the page keeps: people, cards, sets, reports, decisions and jobs, and the files beside them."""
