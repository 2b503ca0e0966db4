//! A what-if as it is typed on its page: common changes in plain fields, and any other on the line itself.
//!
//! Both become the same changes, so what is kept can be typed again; a sentence about a change goes back to the field it was
//! typed in.

use super::measure::{figure_of, without_dress};
use super::{
    account::Books,
    remarks::Remark,
    short,
    swings::lost,
    wear::Span,
    what_if::{Change, Changes, percent},
    when::parse_day,
};
use rust_decimal::Decimal;

/// The plain fields, each by its name in the form.
pub const FIELDS: [&str; 12] =
    ["feed", "store", "store_by", "hour", "lost", "more", "milk", "once", "cow", "dry_from", "comes_in", "changes"];

/// A what-if that can be worked out.
#[derive(Clone, Debug)]
pub struct Supposed {
    /// What is changed.
    pub changes: Changes,
    /// The books with that changed.
    pub books: Books,
}

/// Reads a what-if and changes the books by it; nothing when nothing is typed.
///
/// # Errors
/// A remark for each field that cannot be read, or whose change cannot be made.
pub fn read(books: &Books, span: Span, typed: impl Fn(&str) -> String) -> Result<Option<Supposed>, Vec<Remark>> {
    let mut form = Form { typed, changes: Vec::new(), remarks: Vec::new() };
    form.percent("feed", |by| Change::Price("feed".to_owned(), by));
    form.store();
    form.figure("hour", |figure| Change::Assumed("worth of an hour".to_owned(), figure));
    form.lost(books);
    form.more();
    form.percent("milk", Change::Milk);
    form.once();
    form.dry();
    form.percent("comes_in", Change::ComesIn);
    form.line();
    let Form { changes, mut remarks, .. } = form;
    let (fields, changes): (Vec<&str>, Vec<Change>) = changes.into_iter().unzip();
    let changes = Changes(changes);
    if changes.0.is_empty() && remarks.is_empty() {
        return Ok(None);
    }
    match books.with(&changes, span) {
        Ok(books) if remarks.is_empty() => Ok(Some(Supposed { changes, books })),
        Ok(_) => Err(remarks),
        Err(wrongs) => {
            remarks.extend(wrongs.into_iter().map(|own| {
                let field =
                    changes.0.iter().zip(&fields).find(|(change, _)| change.to_string() == own.field).map_or("changes", |(_, field)| field);
                Remark::fault(field, own.says)
            }));
            Err(remarks)
        }
    }
}

struct Form<T: Fn(&str) -> String> {
    typed: T,
    changes: Vec<(&'static str, Change)>,
    remarks: Vec<Remark>,
}

impl<T: Fn(&str) -> String> Form<T> {
    fn typed(&self, field: &str) -> Option<String> {
        Some((self.typed)(field).trim().to_owned()).filter(|typed| !typed.is_empty())
    }

    fn read<F>(&mut self, field: &'static str, of: impl Fn(&str) -> Option<F>, wrong: &str) -> Option<F> {
        let typed = self.typed(field)?;
        let read = of(&typed);
        if read.is_none() {
            self.remarks.push(Remark::fault(field, format!("“{}” {wrong}", short(&typed))));
        }
        read
    }

    fn percent(&mut self, field: &'static str, change: impl Fn(Decimal) -> Change) {
        if let Some(by) = self.read_percent(field) {
            self.changes.push((field, change(by)));
        }
    }

    fn read_percent(&mut self, field: &'static str) -> Option<Decimal> {
        self.read(field, percent, "is not a percentage. Write one from -100 to 900, like 20 or -10.")
    }

    fn figure(&mut self, field: &'static str, change: impl Fn(Decimal) -> Change) {
        let figure = |typed: &str| figure_of(&without_dress(typed)).filter(|figure| *figure >= Decimal::ZERO);
        if let Some(figure) = self.read(field, figure, "is not a figure. Write a number, like 18 or 2.5.") {
            self.changes.push((field, change(figure)));
        }
    }

    fn store(&mut self) {
        match (self.typed("store"), self.typed("store_by")) {
            (Some(name), Some(_)) => self.percent("store_by", |by| Change::Price(name.clone(), by)),
            (Some(name), None) => {
                self.remarks.push(Remark::fault("store_by", format!("Write by how much the price of {} changes, like 20.", short(&name))))
            }
            (None, Some(_)) => self.remarks.push(Remark::fault("store", "Choose whose price changes by that.")),
            (None, None) => {}
        }
    }

    /// Jars lost are typed in a hundred fillings, and kept as a part of a jar for each.
    fn lost(&mut self, books: &Books) {
        let read = |typed: &str| percent(typed).filter(|by| Decimal::ZERO <= *by && *by <= Decimal::ONE_HUNDRED);
        let Some(of_a_hundred) = self.read("lost", read, "is not a part of a hundred. Write one from 0 to 100, like 6.") else { return };
        let each = of_a_hundred / Decimal::ONE_HUNDRED;
        let stores: Vec<(&str, Change)> = lost(books).map(|(name, _)| ("lost", Change::Use(name.to_owned(), each))).collect();
        if stores.is_empty() {
            let says = "No store of jars is used up by a part of a jar at every filling. Make one under stores first, with 0.04 for four in a hundred.";
            self.remarks.push(Remark::fault("lost", says));
        }
        self.changes.extend(stores.into_iter().map(|(_, change)| ("lost", change)));
    }

    fn more(&mut self) {
        let read = |typed: &str| figure_of(typed.trim_start_matches('+')).filter(|figure| figure.abs() <= Decimal::ONE_THOUSAND);
        if let Some(jars) = self.read("more", read, "is not a number of half-gallons. Write one like 2, or -2 for fewer.") {
            self.changes.push(("more", Change::HandedOut(jars)));
        }
    }

    fn once(&mut self) {
        match self.read_percent("once") {
            Some(by) if by > Decimal::ZERO && by <= Decimal::ONE_HUNDRED => self.changes.push(("once", Change::OnceADay(-by))),
            Some(by) if by <= Decimal::ZERO => self.changes.push(("once", Change::OnceADay(by))),
            Some(_) => self
                .remarks
                .push(Remark::fault("once", "No cow gives more than all of her milk less. Write by how much less she gives, like 25.")),
            None => {}
        }
    }

    fn dry(&mut self) {
        match (self.typed("cow"), self.typed("dry_from")) {
            (Some(cow), Some(typed)) => match parse_day(&typed) {
                Ok(day) => self.changes.push(("dry_from", Change::Dry(cow, day))),
                Err(fault) => self.remarks.push(Remark::fault("dry_from", fault)),
            },
            (Some(cow), None) => self.remarks.push(Remark::fault("dry_from", format!("Write from which day {} is dry.", short(&cow)))),
            (None, Some(_)) => self.remarks.push(Remark::fault("cow", "Choose which cow is dry from that day.")),
            (None, None) => {}
        }
    }

    fn line(&mut self) {
        let Some(typed) = self.typed("changes") else { return };
        match Changes::parse(&typed) {
            Ok(changes) => self.changes.extend(changes.0.into_iter().map(|change| ("changes", change))),
            Err(fault) => self.remarks.push(Remark::fault("changes", fault)),
        }
    }
}
