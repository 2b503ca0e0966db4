-- What a day asks of a long life: each of these was a walk through everything that ever happened.
DROP INDEX pickups_lot;
CREATE INDEX pickups_lot ON pickups (lot, gallons, half_gallons, quarts, pints);
CREATE INDEX pickups_written ON pickups (written);
