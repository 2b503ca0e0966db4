-- Form 3: nothing is written differently. A cow's whole life of pails is no longer walked for each hold on her, and what a lot
-- was made from is found by the lot.

DROP VIEW touched;
CREATE VIEW touched (hold, lot) AS
SELECT h.number, l.number
FROM holds h JOIN lots l ON h.scope = 'everything'
    OR (h.scope = 'lot' AND h.lot = l.number)
    OR (h.scope = 'vessel'
        AND (h.vessel = l.vessel OR EXISTS (SELECT 1 FROM sources s CROSS JOIN pails p ON p.milking = s.milking WHERE s.lot = l.number AND p.vessel = h.vessel))
        AND l.filled >= coalesce((SELECT max(b.at) FROM breaks b
            WHERE b.vessel = h.vessel AND b.washed = 'yes' AND b.sanitised = 'yes' AND b.at <= h.at AND b.written <= h.written), 0))
    OR (h.scope = 'cow' AND EXISTS (SELECT 1 FROM sources s CROSS JOIN pails p ON p.milking = s.milking CROSS JOIN milkings m ON m.number = s.milking
        WHERE s.lot = l.number AND p.cow = h.cow AND p.went = 'can' AND m.started >= h.at - 86400));

CREATE INDEX sources_of_lot ON sources (lot, parent);
