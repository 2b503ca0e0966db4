//! A milking: what the scale, the dipstick or the jar line said, and the slips a tired person makes writing it down.

use super::{
    Fault,
    measure::{Weight, figure_of, rounded, trimmed},
    remarks::Remark,
    short,
};
use rust_decimal::Decimal;
use std::fmt;

/// A vessel's own table from dipstick inches to gallons, in rising order.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Dipstick(Vec<(Decimal, Decimal)>);

impl Dipstick {
    /// Reads `2 in = 0.9 gal; 4 in = 1.8 gal`.
    ///
    /// # Errors
    /// A sentence when a line of the table is malformed or the table does not rise.
    pub fn parse(typed: &str) -> Result<Dipstick, Fault> {
        let wrong =
            |part: &str| Fault::says(format!("“{}” is not a line of a dipstick table. Write 2 in = 0.9 gal; 4 in = 1.8 gal.", short(part)));
        let mut table = Vec::new();
        for part in typed.split(';').map(str::trim).filter(|part| !part.is_empty()) {
            let (inches, gallons) = part.split_once('=').ok_or_else(|| wrong(part))?;
            let inches = figure_of(inches.trim().trim_end_matches("in")).ok_or_else(|| wrong(part))?;
            let gallons = figure_of(gallons.trim().trim_end_matches("gal")).ok_or_else(|| wrong(part))?;
            // As it is kept: two marks that are one once they are written down do not rise.
            table.push((rounded(inches, 3), rounded(gallons, 3)));
        }
        let rises = table.windows(2).all(|pair| matches!(pair, [a, b] if a.0 < b.0 && a.1 < b.1));
        if table.len() < 2 || !rises {
            return Err(Fault::says("A dipstick table needs at least two lines, with inches and gallons both rising."));
        }
        Ok(Dipstick(table))
    }

    /// The milk at so many inches, on the straight line between the two marks around it; nothing beyond the table.
    #[must_use]
    pub fn milk(&self, inches: Decimal) -> Option<Weight> {
        self.0.windows(2).find_map(|pair| match pair {
            [(low_in, low_gal), (high_in, high_gal)] if *low_in <= inches && inches <= *high_in => {
                Some(Weight::gallons(low_gal + (high_gal - low_gal) * (inches - low_in) / (high_in - low_in)))
            }
            _ => None,
        })
    }
}

impl fmt::Display for Dipstick {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let lines: Vec<String> =
            self.0.iter().map(|(inches, gallons)| format!("{} in = {} gal", trimmed(*inches, 3), trimmed(*gallons, 3))).collect();
        f.write_str(&lines.join("; "))
    }
}

/// The milk behind a reading: pounds on the scale less the bucket, inches through the vessel's table, or gallons.
///
/// # Errors
/// A sentence when the reading is no amount, lies off the table, or is lighter than the bucket.
pub fn milk_of(read: &str, tare: Option<Weight>, dipstick: Option<&Dipstick>) -> Result<Weight, Fault> {
    let text = read.trim();
    if let Some(inches) = inches(text) {
        let table = dipstick
            .ok_or_else(|| Fault::says("This vessel has no dipstick table yet. Add one to the vessel, or write pounds or gallons."))?;
        return table
            .milk(inches)
            .ok_or_else(|| Fault::says(format!("{} in is off this vessel's dipstick table. Read the stick again.", trimmed(inches, 2))));
    }
    let gross = Weight::parse(text)?;
    let on_scale = !text.to_ascii_lowercase().contains(['g', 'j']) || text.to_ascii_lowercase().contains("kg");
    match tare {
        Some(bucket) if on_scale && bucket > gross => {
            Err(Fault::says(format!("{gross} is lighter than the empty bucket ({bucket}). Weigh again, or check the bucket.")))
        }
        Some(bucket) if on_scale => Ok(gross - bucket),
        _ => Ok(gross),
    }
}

/// Inches on a dipstick, written `7.25 in`, `7 1/4 in` or `7¼ in`.
fn inches(text: &str) -> Option<Decimal> {
    let bare = text.strip_suffix("in").or_else(|| text.strip_suffix('"')).or_else(|| text.strip_suffix("inches"))?.trim();
    let quarters = [("¼", "1/4"), ("½", "1/2"), ("¾", "3/4"), ("⅛", "1/8"), ("⅜", "3/8"), ("⅝", "5/8"), ("⅞", "7/8")];
    let plain = quarters.iter().fold(bare.to_owned(), |text, (sign, ascii)| text.replace(sign, &format!(" {ascii}")));
    plain.split_whitespace().try_fold(Decimal::ZERO, |sum, part| {
        let value = match part.split_once('/') {
            Some((over, under)) => figure_of(over)?.checked_div(figure_of(under)?)?,
            None => figure_of(part)?,
        };
        Some(sum + value)
    })
}

/// Asks about a figure far from what this cow gives: a decimal slipped, or a figure carried over.
#[must_use]
pub fn ask_about(field: &str, cow: &str, read: &str, milk: Weight, usual: Option<Weight>) -> Option<Remark> {
    let too_much = match usual {
        Some(usual) if usual > Weight::ZERO => milk.in_milligrams() > usual.in_milligrams().saturating_mul(3),
        _ => milk > Weight::pounds(Decimal::from(70)),
    };
    if !too_much {
        return None;
    }
    let usually =
        usual.map_or_else(|| "more than one cow gives at a milking".to_owned(), |usual| format!("{cow} usually gives about {usual}"));
    Some(Remark::question(field, format!("{milk} from {cow}? {usually}. Keep it, or put the point back."), a_tenth(read)))
}

/// The same figure with its point one place to the left: `40 gal` → `4 gal`.
fn a_tenth(read: &str) -> Option<String> {
    let text = read.trim();
    let (figure, unit) = text.split_at(text.find(|c: char| !(c.is_ascii_digit() || c == '.')).unwrap_or(text.len()));
    // Only a plain figure with a plain unit has one point to put back.
    if !unit.chars().all(|c| c.is_ascii_alphabetic() || c == ' ' || c == '-') {
        return None;
    }
    let figure = figure_of(figure)? / Decimal::TEN;
    Some(format!("{}{unit}", trimmed(figure, 2)))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn can() -> Dipstick {
        Dipstick::parse("0 in = 0 gal; 4 in = 1.8 gal; 8 in = 3.8 gal; 12 in = 6 gal").unwrap()
    }

    /// Source: common practice; a bucket on a hanging scale is weighed full and its empty weight taken off.
    #[test]
    fn the_bucket_is_taken_off() {
        let bucket = Weight::parse("3.8 lb").unwrap();
        assert_eq!(milk_of("30.2 lb", Some(bucket), None).unwrap().to_string(), "26.4 lb");
        assert!(milk_of("3.0 lb", Some(bucket), None).is_err());
        assert_eq!(milk_of("2 gal", Some(bucket), None).unwrap().to_string(), "17.2 lb", "gallons are read inside the bucket");
    }

    #[test]
    fn inches_go_through_the_vessels_own_table() {
        let quarter = milk_of("7¼ in", None, Some(&can())).unwrap();
        assert_eq!(quarter, milk_of("7.25 in", None, Some(&can())).unwrap());
        assert_eq!(quarter, milk_of("7 1/4 in", None, Some(&can())).unwrap());
        // 1.8 + 2.0 × 3.25/4 = 3.425 gal, and 3.425 × 8.6 = 29.455 lb; kept to the milligram it is a hair less.
        assert_eq!(quarter.to_string(), "29.45 lb");
        assert!(milk_of("13 in", None, Some(&can())).is_err());
        assert!(milk_of("7 in", None, None).is_err());
        assert_eq!(Dipstick::parse(&can().to_string()).unwrap(), can());
        assert!(Dipstick::parse("0.0001 in = 1 gal; 0.0002 in = 2 gal").is_err(), "kept to the thousandth, both marks are one");
    }

    #[test]
    fn forty_for_four_is_asked_about() {
        let milk = milk_of("40 gal", None, None).unwrap();
        let asked = ask_about("read", "Damson", "40 gal", milk, Some(Weight::parse("26 lb").unwrap())).unwrap();
        assert_eq!(asked.question.unwrap().instead.as_deref(), Some("4 gal"));
        let bare = ask_about("read", "Damson", "264", Weight::parse("264 lb").unwrap(), None).unwrap();
        assert_eq!(bare.question.unwrap().instead.as_deref(), Some("26.4"));
        assert!(ask_about("read", "Damson", "4 gal", Weight::parse("4 gal").unwrap(), Some(Weight::parse("26 lb").unwrap())).is_none());
    }
}
