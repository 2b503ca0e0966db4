//! What wears, among the answers to the first questions: milking gear, a fridge, and the cows.

use super::{Answers, Known, is_empty};
use crate::trade::{money::Money, records::Remark, when::Day};
use chrono::{Datelike, Months};

impl Answers {
    /// The first of July of a year, in the middle of what is not known; the year's first day when July has not come.
    fn in_year(&mut self, field: &'static str, today: Day) -> Option<Day> {
        let year = i32::try_from(self.cell(field).whole()?).ok()?;
        if year > today.year() {
            self.fault(field, format!("{year} has not come yet. Write the year it was bought."));
            return None;
        }
        let first = |month| Day::from_ymd_opt(year, month, 1);
        first(7).filter(|july| *july <= today).or_else(|| first(1))
    }

    /// Years and what is left at the end, when they can be right.
    fn years(&mut self, price: Money, [life, left]: [&'static str; 2]) -> Option<(i64, Money)> {
        let (years, worth) = (self.cell(life).whole()?, self.money(left).unwrap_or_default());
        if years == 0 {
            self.fault(life, "A life of 0 years cannot be right. Write for how many years it will serve.");
        }
        if worth > price {
            self.fault(left, "It cannot be worth more at the end than it cost.");
        }
        (years > 0 && worth <= price).then_some((years, worth))
    }

    fn worn_out(&mut self, field: &'static str, bought: Day, years: i64) {
        let months = u32::try_from(years * 12).unwrap_or_default();
        if bought.checked_add_months(Months::new(months)).is_some_and(|end| end <= self.span.from) {
            let says = format!(
                "Bought in {} for {years} years, it is worn out by now and costs nothing more. Keep it if that is so.",
                bought.year()
            );
            self.remarks.push(Remark::question(field, says, None));
        }
    }

    pub(super) fn thing(&mut self, [price, year, life, left]: [&'static str; 4], name: &str, serves: &str, today: Day) {
        // The years stand on the form from the beginning, so they alone are no answer.
        if is_empty(self.cell(price)) && is_empty(self.cell(year)) && is_empty(self.cell(left)) {
            return;
        }
        let asked = [(price, "What did it cost?"), (year, "In which year was it bought?"), (life, "For how many years does it serve?")];
        let whole = self.all(&asked);
        let bought = self.in_year(year, today);
        let Some(cost) = self.money(price) else { return };
        let worth = self.years(cost, [life, left]);
        if let (true, Some(bought), Some((years, worth))) = (whole, bought, worth) {
            self.worn_out(life, bought, years);
            let mut cells = owned(name, "gear", bought, (cost, worth, years));
            cells.push(("serves", serves.to_owned()));
            self.keep("gear", price, cells);
        }
    }

    pub(super) fn cows(&mut self, known: &Known, today: Day) {
        let here = i64::try_from(known.cows.len()).unwrap_or_default();
        let count = self.cell("cows").whole();
        let mut names = known.cows.clone();
        let mut nth = 0;
        while i64::try_from(names.len()).unwrap_or(i64::MAX) < count.unwrap_or_default() {
            nth += 1;
            let name = format!("Cow {nth}");
            if !names.iter().any(|own| own.eq_ignore_ascii_case(&name)) {
                let cells = vec![("name", name.clone()), ("quarters", "4".to_owned()), ("since", self.span.from.to_string())];
                self.keep("cows", "cows", cells);
                names.push(name);
            }
        }
        let asked = [("cow_price", "What did a cow cost?"), ("cow_years", "For how many years does a cow milk?")];
        let whole = self.all(&asked);
        let Some(price) = self.money("cow_price") else { return };
        if count.unwrap_or(here) == 0 {
            self.fault("cows", "How many cows are there?");
        }
        let worth = self.years(price, ["cow_years", "cow_left"]);
        let before = self.span.from.pred_opt().unwrap_or(self.span.from);
        let bought = if is_empty(self.cell("cow_year")) { Some(before) } else { self.in_year("cow_year", today) };
        let (true, Some(bought), Some((years, worth))) = (whole, bought, worth) else { return };
        self.worn_out("cow_years", bought, years);
        let many = usize::try_from(count.unwrap_or(here)).unwrap_or_default();
        for name in names.iter().take(many) {
            let mut cells = owned(name, "cow", bought, (price, worth, years));
            cells.push(("cow", name.clone()));
            self.keep("gear", "cow_price", cells);
        }
    }
}

/// Something that wears, as a record.
fn owned(name: &str, sort: &str, bought: Day, (price, worth, years): (Money, Money, i64)) -> Vec<(&'static str, String)> {
    vec![
        ("name", name.to_owned()),
        ("sort", sort.to_owned()),
        ("bought", bought.to_string()),
        ("price", price.to_string()),
        ("salvage", worth.to_string()),
        ("life_years", years.to_string()),
        ("milk_share", "100".to_owned()),
    ]
}
