-- The balances of the books worked out a second time, from the exported journal alone, by SQLite's own program: no line of
-- Tallypail's own reckoning is used. Run in a folder that holds journal.csv. All money is whole cents.

.import --csv journal.csv journal
.mode list
.separator =

CREATE TEMP TABLE moved AS
SELECT "Household" AS household, "From (credit)" AS giver, "To (debit)" AS taker, "Day" AS day,
       CAST(replace("Amount", '.', '') AS INTEGER) AS cents
FROM journal;

CREATE TEMP TABLE sides AS
SELECT taker AS account, household, cents FROM moved UNION ALL SELECT giver, household, -cents FROM moved;

SELECT 'account ' || account, printf('%.2f', sum(cents) / 100.0) FROM sides GROUP BY account;
SELECT 'owes ' || household, printf('%.2f', sum(cents) / 100.0) FROM sides WHERE account = 'household' GROUP BY household;
SELECT 'held ' || household, printf('%.2f', -sum(cents) / 100.0) FROM sides WHERE account = 'jar deposits' GROUP BY household;
SELECT 'all', printf('%.2f', sum(cents) / 100.0) FROM sides;
-- Each account on the side it stands on; households and their deposits are taken one by one.
SELECT 'side', printf('%.2f', sum(max(standing, 0)) / 100.0)
FROM (SELECT sum(cents) AS standing FROM sides GROUP BY account, CASE WHEN account IN ('household', 'jar deposits') THEN household END);
