//! Sharing out whole things so that the parts always add up to the whole: the largest-remainder method, which Alexander
//! Hamilton proposed for seats in 1792. Cents, hundredths of a jar and jars are all shared out by it.

use rust_decimal::{Decimal, RoundingStrategy, prelude::ToPrimitive};
use std::cmp::Reverse;

/// Shares out a whole by weights. Each part is floored, then what is spare goes one by one to the largest remainders; ties
/// go to the earlier part. Gives nothing back when every weight is zero: an equal split in silence would be a made-up answer.
#[must_use]
pub fn by_weight(whole: i64, weights: &[i64]) -> Option<Vec<i64>> {
    let total: i128 = weights.iter().map(|w| i128::from((*w).max(0))).sum();
    if total == 0 {
        return None;
    }
    let size = i128::from(whole.unsigned_abs());
    let mut parts: Vec<(i128, i128)> = weights
        .iter()
        .map(|w| {
            let share = size * i128::from((*w).max(0));
            (share / total, share % total)
        })
        .collect();
    let spare = size - parts.iter().map(|(floor, _)| floor).sum::<i128>();
    let mut order: Vec<usize> = (0..parts.len()).collect();
    order.sort_by(|a, b| parts[*b].1.cmp(&parts[*a].1).then(a.cmp(b)));
    // There is less to spare than there are parts, because every remainder is less than one.
    for place in order.into_iter().take(usize::try_from(spare).unwrap_or(0)) {
        parts[place].0 += 1;
    }
    Some(parts.iter().map(|(floor, _)| whole.signum() * i64::try_from(*floor).unwrap_or(i64::MAX)).collect())
}

/// Exact amounts rounded to whole ones so that they add up to their rounded sum: each is floored, and what is spare goes to the
/// largest remainders, ties to the earlier.
#[must_use]
pub fn to_the_whole(exact: &[Decimal]) -> Vec<i64> {
    let floored: Vec<Decimal> = exact.iter().map(Decimal::floor).collect();
    let whole = exact.iter().sum::<Decimal>().round_dp_with_strategy(0, RoundingStrategy::MidpointAwayFromZero);
    let spare = (whole - floored.iter().sum::<Decimal>()).to_usize().unwrap_or_default();
    let mut order: Vec<usize> = (0..exact.len()).collect();
    order.sort_by_key(|place| Reverse(exact[*place] - floored[*place]));
    let mut parts: Vec<i64> = floored.iter().map(|part| part.to_i64().unwrap_or_default()).collect();
    for place in order.into_iter().take(spare) {
        parts[place] += 1;
    }
    parts
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Worked by hand: 0.4 + 0.4 + 0.4 is 1.2, so one of them is 1; below nothing it is the same.
    #[test]
    fn rounded_parts_add_up_to_the_rounded_whole() {
        let tenths = |tenths: &[i64]| to_the_whole(&tenths.iter().map(|own| Decimal::new(*own, 1)).collect::<Vec<_>>());
        assert_eq!(tenths(&[4, 4, 4]), [1, 0, 0]);
        assert_eq!(tenths(&[15, -4, 26]), [1, 0, 3]);
        assert_eq!(tenths(&[-15, -15]), [-1, -2]);
        assert_eq!(tenths(&[]), [0i64; 0]);
    }

    /// Source: D. Lippman, “Math in Society” (2nd ed.), chapter “Apportionment”, examples 1 and 2 (Hamilton's method): the 41
    /// seats of Delaware's House by county in 2010, and the 75 of Rhode Island's. From memory.
    #[test]
    fn seats_of_a_textbook() {
        assert_eq!(by_weight(41, &[162_310, 538_479, 197_145]).unwrap(), [7, 25, 9]);
        assert_eq!(by_weight(75, &[49_875, 166_158, 82_888, 626_667, 126_979]).unwrap(), [3, 12, 6, 45, 9]);
    }

    /// Source: the bill of 1792 for 120 seats by the census of 1790, as M. L. Balinski and H. P. Young print it in “Fair
    /// Representation” (1982). From memory.
    #[test]
    fn the_seats_of_1792() {
        // CT, DE, GA, KY, MD, MA, NH, NJ, NY, NC, PA, RI, SC, VT, VA
        let people = [
            236_841, 55_540, 70_835, 68_705, 278_514, 475_327, 141_822, 179_570, 331_589, 353_523, 432_879, 68_446, 206_236, 85_533,
            630_560,
        ];
        assert_eq!(by_weight(120, &people).unwrap(), [8, 2, 2, 2, 9, 16, 5, 6, 11, 12, 14, 2, 7, 3, 21]);
    }

    #[test]
    fn nothing_is_shared_by_nothing() {
        assert_eq!(by_weight(5, &[0, 0]), None);
        assert_eq!(by_weight(-100, &[1, 1, 1]).unwrap(), [-34, -33, -33]);
    }
}
