//! A lab's figure and one result.
//!
//! A lab often cannot give a bare number: “<1”, “>2,500” and “not detected” each say something a number would not, and
//! turning them into one would be a guess. So a figure keeps its meaning here, and the cell keeps the lab's own text.

pub use super::analytes::Unit;
use super::{Fault, analytes::Analyte, measure::figure_of, short, when::Day, when::Moment, when::Zone};
use rust_decimal::Decimal;
use std::fmt;

/// Words a lab uses for “none of it”.
const NONE: [&str; 14] = [
    "not detected",
    "none detected",
    "not found",
    "none found",
    "none",
    "nd",
    "n.d.",
    "absent",
    "negative",
    "neg",
    "neg.",
    "no growth",
    "no inhibition",
    "clear",
];

/// Words a lab uses for “some of it”. A first finding that awaits its confirmation counts as one until the lab says
/// otherwise.
const SOME: [&str; 9] = ["detected", "found", "present", "positive", "pos", "pos.", "presumptive positive", "presumptive", "not negative"];

/// Words before a figure that bound it.
const BOUNDS: [(&str, bool); 10] = [
    ("<", false),
    ("less than ", false),
    ("below ", false),
    ("under ", false),
    ("fewer than ", false),
    (">", true),
    ("more than ", true),
    ("greater than ", true),
    ("above ", true),
    ("over ", true),
];

/// What a lab found.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Figure {
    /// A plain figure.
    Number(Decimal),
    /// Less than this: nothing was seen, or too little to count.
    Below(Decimal),
    /// More than this: too much to count.
    Above(Decimal),
    /// Looked for and not there.
    NoneFound,
    /// There, and not counted.
    Found,
}

impl Figure {
    /// Reads a figure as labs write it: `12,000`, `<1`, `>2,500`, `not detected`, `positive`.
    ///
    /// # Errors
    /// A sentence when it is none of these, or a count the lab left without a figure.
    pub fn parse(typed: &str) -> Result<Figure, Fault> {
        let text = typed.split_whitespace().collect::<Vec<_>>().join(" ").to_lowercase();
        if NONE.contains(&text.as_str()) {
            return Ok(Figure::NoneFound);
        }
        if SOME.contains(&text.as_str()) {
            return Ok(Figure::Found);
        }
        if text.contains("tntc") || text.contains("too numerous") || text.contains("too many to count") {
            return Err(Fault::says("“Too numerous to count” is no figure yet. Ask the lab for one, and write it like >300,000."));
        }
        let text = text.trim_start_matches("est. ").trim_start_matches("est ").trim_end_matches(" est.").trim_end_matches(" est");
        let bound = BOUNDS.iter().find_map(|(word, above)| Some((text.strip_prefix(word)?, *above)));
        let read = match bound {
            Some((rest, above)) => number(rest).map(|bare| if above { Figure::Above(bare) } else { Figure::Below(bare) }),
            None => number(text).map(Figure::Number),
        };
        read.ok_or_else(|| {
            Fault::says(format!(
                "“{}” is not a lab's figure. Write it as the lab did, like 12,000 or <1 or >2,500 or not detected; the unit has a place of its own.",
                short(typed)
            ))
        })
    }

    /// The bare figure, whatever stands before it.
    #[must_use]
    pub const fn bare(&self) -> Option<Decimal> {
        match self {
            Figure::Number(bare) | Figure::Below(bare) | Figure::Above(bare) => Some(*bare),
            Figure::NoneFound | Figure::Found => None,
        }
    }
}

impl fmt::Display for Figure {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Figure::Number(bare) => f.write_str(&grouped(*bare)),
            Figure::Below(bare) => write!(f, "<{}", grouped(*bare)),
            Figure::Above(bare) => write!(f, ">{}", grouped(*bare)),
            Figure::NoneFound => f.write_str("not detected"),
            Figure::Found => f.write_str("detected"),
        }
    }
}

/// A number as labs write it: `12,000`, `12 000`, `0,525`, `-0.53`, `1.2e4`.
fn number(typed: &str) -> Option<Decimal> {
    let text = typed.trim().replace('−', "-").replace(' ', ",");
    let plain = text.trim_start_matches('-');
    let mut groups = plain.split(',');
    let first = groups.next().unwrap_or_default();
    let rest: Vec<&str> = groups.collect();
    let digits = |text: &str| text.chars().all(|c| c.is_ascii_digit());
    let thousands = !rest.is_empty()
        && (1..=3).contains(&first.len())
        && digits(first)
        && !first.starts_with('0')
        && rest.iter().enumerate().all(|(nth, group)| {
            let (whole, fraction) = group.split_once('.').unwrap_or((group, "0"));
            whole.len() == 3 && digits(whole) && digits(fraction) && (nth + 1 == rest.len() || !group.contains('.'))
        });
    let shape = |c: char| c.is_ascii_digit() || matches!(c, '-' | '.');
    if thousands {
        figure_of(&text.replace(',', ""))
    } else if let Some((figure, power)) = text.split_once('e') {
        let power = power.trim_start_matches('+').parse::<u32>().ok().filter(|power| *power <= 9)?;
        // What is longer than a figure may be when it is written out could not be read again.
        let read = figure_of(figure)?.checked_mul(Decimal::from(10u64.pow(power)))?;
        figure_of(&read.normalize().to_string())
    } else if typed.trim().contains(' ') || !text.replace(',', ".").chars().all(shape) {
        None
    } else {
        figure_of(&text)
    }
}

/// A figure with its thousands apart, every decimal it has and no zeros behind: `12,000`, `-0.525`.
#[must_use]
pub fn grouped(figure: Decimal) -> String {
    let plain = figure.normalize().to_string();
    let (sign, plain) = plain.strip_prefix('-').map_or(("", plain.as_str()), |rest| ("-", rest));
    let (whole, fraction) = plain.split_once('.').map_or((plain, None), |(whole, fraction)| (whole, Some(fraction)));
    let mut shown = String::from(sign);
    for (nth, digit) in whole.chars().enumerate() {
        if nth > 0 && (whole.len() - nth).is_multiple_of(3) {
            shown.push(',');
        }
        shown.push(digit);
    }
    if let Some(fraction) = fraction {
        shown.push('.');
        shown.push_str(fraction);
    }
    shown
}

/// What a sample was taken of.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Of {
    /// A lot of milk, by its code.
    Lot(String),
    /// One cow's milk, by her name.
    Cow(String),
    /// The water of the farm.
    Water,
    /// A surface.
    Swab,
}

impl fmt::Display for Of {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Of::Lot(name) | Of::Cow(name) => f.write_str(name),
            Of::Water => f.write_str("water"),
            Of::Swab => f.write_str("a swab"),
        }
    }
}

/// One result of one sample.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct LabResult {
    /// The number of its record.
    pub number: i64,
    /// The number of the sample's record.
    pub sample: i64,
    /// When the sample was drawn; laws count results by that day.
    pub drawn: Moment,
    /// What it was drawn of.
    pub of: Of,
    /// What was tested for.
    pub analyte: Analyte,
    /// What was found.
    pub figure: Figure,
    /// What the figure is counted in; nothing where the lab's paper or the farm did not say.
    pub unit: Option<Unit>,
    /// Which of several portions of one lot it is, for a plan that takes several.
    pub part: Option<i64>,
    /// The day the lab reported it.
    pub reported: Day,
    /// When it was written down here.
    pub written: Moment,
}

impl LabResult {
    /// Whether it was known at a moment: it stood in the ledger by then, or the lab had reported it on a day before. A report
    /// dated ahead by a slip is known from when it was written down, because a positive must not hide behind a date.
    #[must_use]
    pub fn is_known(&self, zone: Zone, at: Moment) -> bool {
        self.written <= at || self.reported < zone.day(at)
    }

    /// Whether the lab found any of it.
    #[must_use]
    pub fn is_found(&self) -> bool {
        match self.figure {
            Figure::Found | Figure::Above(_) => true,
            Figure::Number(figure) => figure > Decimal::ZERO,
            Figure::Below(_) | Figure::NoneFound => false,
        }
    }

    /// The day it was drawn, on the farm's clock.
    #[must_use]
    pub fn day(&self, zone: Zone) -> Day {
        zone.day(self.drawn)
    }

    /// The result in words: `Coliforms 12 per mL`.
    #[must_use]
    pub fn spoken(&self) -> String {
        spoken(&self.analyte, &self.figure, self.unit)
    }
}

/// A figure in words, with what it is a figure of: `Coliforms 12 per mL`, `Salmonella not detected in 25 mL`.
#[must_use]
pub fn spoken(analyte: &Analyte, figure: &Figure, unit: Option<Unit>) -> String {
    let name = analyte.spoken();
    unit.map_or_else(|| format!("{name} {figure}"), |unit| format!("{name} {figure} {unit}"))
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn d(typed: &str) -> Decimal {
        typed.parse().unwrap()
    }

    #[test]
    fn a_figure_is_read_as_labs_write_it() {
        for (typed, figure) in [
            ("12,000", Figure::Number(d("12000"))),
            ("12 000", Figure::Number(d("12000"))),
            ("1,234,567.5", Figure::Number(d("1234567.5"))),
            ("0,525", Figure::Number(d("0.525"))),
            ("−0.53", Figure::Number(d("-0.53"))),
            ("1.2e4", Figure::Number(d("12000"))),
            ("-.000013333331", Figure::Number(d("-0.000013333331"))),
            ("-0.000013333331", Figure::Number(d("-0.000013333331"))),
            ("300 est.", Figure::Number(d("300"))),
            ("< 10", Figure::Below(d("10"))),
            ("<1", Figure::Below(d("1"))),
            ("less than 1.1", Figure::Below(d("1.1"))),
            (">2,500", Figure::Above(d("2500"))),
            ("Not  Detected", Figure::NoneFound),
            ("ND", Figure::NoneFound),
            ("absent", Figure::NoneFound),
            ("Negative", Figure::NoneFound),
            ("POSITIVE", Figure::Found),
            ("present", Figure::Found),
        ] {
            assert_eq!(Figure::parse(typed).unwrap(), figure, "{typed}");
        }
        assert!(Figure::parse("TNTC").unwrap_err().to_string().contains("Ask the lab"));
    }

    #[test]
    fn nonsense_gets_a_sentence() {
        for typed in [
            "",
            "some",
            "<",
            "<>1",
            "12 13",
            "1,2,3",
            "12 cfu/mL",
            "≤10",
            "1e99",
            "99999999999999e9",
            "99999999999999999999",
            "--1",
            "٣",
            "🥛",
        ] {
            assert!(Figure::parse(typed).unwrap_err().to_string().contains("is not a lab's figure"), "{typed}");
        }
    }

    proptest! {
        #![proptest_config(ProptestConfig { failure_persistence: None, ..ProptestConfig::default() })]
        #[test]
        fn what_is_shown_can_be_typed(units in 0i64..10_000_000_000, places in 0u32..4, kind in 0..5) {
            let bare = Decimal::new(units, places);
            let figure = match kind {
                0 => Figure::Number(bare),
                1 => Figure::Below(bare),
                2 => Figure::Above(bare),
                3 => Figure::NoneFound,
                _ => Figure::Found,
            };
            prop_assert_eq!(Figure::parse(&figure.to_string()).unwrap(), figure);
        }
    }
}
