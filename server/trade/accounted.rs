//! Every jar of a call-back in exactly one place, or missing by name: filled, on hand by the last count, set aside, and handed out;
//! and of those handed out, what each household said became of them.
//!
//! Jars nobody has said anything of stand in a column of their own. They are not lost, only not known; a stranger's jars stay
//! there for good.

use super::{
    called::Recipient,
    figures::{Cell, Holds, Part, Table},
    jars::{Jars, Size},
    kinds::BECAME,
    when::Zone,
    whereabouts::{self, Caught, many, sizes},
};

/// Where the jars of one lot and one size are.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Line {
    /// The lot's code.
    pub code: String,
    /// The size.
    pub size: Size,
    /// Handed out to households and walk-ins.
    pub handed_out: i64,
    /// What households said became of them, in the order of the words of the ledger.
    pub became: Vec<i64>,
    /// Handed out to somebody unknown, and not said anything of.
    pub walk_ins: i64,
    /// Handed out to households, and not said anything of yet.
    pub unsaid: i64,
    /// Told of beyond what is written as handed out.
    pub too_many: i64,
}

impl Line {
    /// Whether the jars handed out stand in exactly one place each: what was said, what nobody said, less what was said too much.
    #[must_use]
    pub fn closes(&self) -> bool {
        self.handed_out == self.became.iter().sum::<i64>() + self.walk_ins + self.unsaid - self.too_many
    }
}

/// Where the handed-out jars of some lots are, a line for each lot and size.
#[must_use]
pub fn lines(lots: &[Caught], recipients: &[Recipient]) -> Vec<Line> {
    let mut lines = Vec::new();
    for lot in lots {
        let had = recipients.iter().filter_map(|own| own.had.get(&lot.number).copied());
        let told = recipients.iter().flat_map(|own| own.told.get(&lot.number).into_iter().flatten()).map(|own| own.jars);
        for size in sizes(had.chain(told)) {
            let mut line =
                Line { code: lot.code.clone(), size, handed_out: 0, became: vec![0; BECAME.len()], walk_ins: 0, unsaid: 0, too_many: 0 };
            for own in recipients {
                line.handed_out += own.had.get(&lot.number).map_or(0, |jars| jars.of(size));
                for (place, became) in line.became.iter_mut().zip(BECAME) {
                    *place += own.became(lot.number, became).of(size);
                }
                let (short, over) = own.unsaid(lot.number).short_and_over();
                line.too_many += over.of(size);
                *(if own.household.is_none() { &mut line.walk_ins } else { &mut line.unsaid }) += short.of(size);
            }
            lines.push(line);
        }
    }
    lines
}

/// The jars of a call-back as the parts of a sheet: of the lots, and of those handed out.
#[must_use]
pub fn parts(lots: &[Caught], recipients: &[Recipient], zone: Zone) -> Vec<Part> {
    let lines = lines(lots, recipients);
    let mut columns = vec![("Lot", Holds::Codes, 3), ("Jars", Holds::Words, 3), ("Handed out", Holds::Figures, 2)];
    let heads: Vec<String> = BECAME.iter().map(|word| super::capital(word)).collect();
    columns.extend(heads.iter().map(|head| (head.as_str(), Holds::Figures, 2)));
    columns.extend([("Not said yet", Holds::Figures, 2), ("Unknown walk-ins", Holds::Figures, 2), ("Told too many", Holds::Figures, 2)]);
    let mut table = Table::new("handed-out-jars", "Jars handed out, and what became of them", &columns);
    "No jar of these lots was handed out.".clone_into(&mut table.when_empty);
    let figure = |count: i64| Cell::says(count.to_string());
    for line in lines.iter().filter(|line| line.handed_out != 0 || line.too_many != 0) {
        let mut row = vec![Cell::says(&line.code), Cell::says(many(line.size)), figure(line.handed_out)];
        row.extend(line.became.iter().map(|count| figure(*count)));
        row.extend([figure(line.unsaid), figure(line.walk_ins), figure(line.too_many)]);
        table.rows.push(row);
    }
    let mut parts = whereabouts::parts(lots, zone);
    parts.push(Part::Words(
        "Of the jars handed out, each stands in one place: what a household last said became of it, not said yet, or gone with somebody \
         nobody knows. Two quarts never cancel a half-gallon."
            .to_owned(),
    ));
    parts.push(Part::Table(table));
    parts
}

/// Of the jars handed out, in half-gallons, how much is accounted for in percent: said by a household what became of it. Nothing
/// when nothing was handed out.
#[must_use]
pub fn percent_said(recipients: &[Recipient]) -> Option<rust_decimal::Decimal> {
    let had: Jars = recipients.iter().map(Recipient::jars).sum();
    let unsaid: Jars = recipients.iter().flat_map(|own| own.had.keys().map(|lot| own.unsaid(*lot).short_and_over().0)).sum();
    let had = had.in_half_gallons();
    (rust_decimal::Decimal::ONE_HUNDRED * (had - unsaid.in_half_gallons())).checked_div(had)
}
