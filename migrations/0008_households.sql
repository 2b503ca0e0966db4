-- Form 8: nothing is written differently. What one household ever took is added up from the index alone; before, its page took the longer
-- the longer it had been here.

DROP INDEX pickups_person;
CREATE INDEX pickups_person ON pickups (person, at, gallons, half_gallons, quarts, pints);
