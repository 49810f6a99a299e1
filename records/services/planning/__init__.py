"""Plans a day before anything is mixed: loads, doses, order, partners, and what every stop would meet."""
