//! The records that the answers to the first questions become.

use super::{ABOUT, KINDS, Known, NOTE, is_empty, questions};
use crate::trade::{
    guessed::{HANDED_OUT, MADE},
    kinds::kind,
    measure::{figure_of, fixed, rounded, trimmed},
    money::Money,
    months::twelve,
    records::{Cell, Remark, Ways, read},
    wear::Span,
    when::Day,
};
use chrono::Months;
use rust_decimal::Decimal;
use std::collections::BTreeMap;

/// More than this of anything is a slip on a farm of this size.
const MOST: i64 = 100_000;

/// A record to keep: its kind, its cells as they would be typed, and the field of the form they come from.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Written {
    /// The kind.
    pub kind: &'static str,
    /// Column and what is typed in it.
    pub cells: Vec<(&'static str, String)>,
    /// The field it comes from, for a remark on it.
    pub field: &'static str,
}

/// The answers as they were read, with all there is to say about them and the records they become.
#[derive(Debug)]
pub struct Answers {
    cells: BTreeMap<&'static str, Cell>,
    pub(super) span: Span,
    /// Faults and questions, each beside its field.
    pub remarks: Vec<Remark>,
    /// What to keep, in the order to keep it.
    pub written: Vec<Written>,
}

impl Answers {
    /// Reads the answers of somebody to the questions, on a day.
    #[must_use]
    pub fn read(typed: impl Fn(&str) -> String, known: &Known, today: Day, ways: Ways) -> Answers {
        let mut own = Answers { cells: BTreeMap::new(), span: twelve(today, None), remarks: Vec::new(), written: Vec::new() };
        for question in questions() {
            match question.shape.read(&typed(question.name), ways) {
                Ok(cell) if !is_empty(&cell) && known.has(question) => {
                    own.fault(question.name, "This is written down already: open it in the list above and correct it there.");
                    own.cells.insert(question.name, cell);
                }
                Ok(cell) => own.reasonable(question.name, cell),
                Err(fault) => own.remarks.push(Remark::fault(question.name, fault)),
            }
        }
        if own.says("about") == ABOUT[1] {
            let first = today.succ_opt().and_then(|next| next.checked_sub_months(Months::new(1)));
            own.span.from = first.unwrap_or(today);
        }
        own.write(known, today);
        own.refuse_what_is_no_record(ways);
        if own.written.is_empty() && own.remarks.is_empty() {
            own.fault("made", "Nothing is answered yet. Begin with whatever you know best; one answer is enough.");
        }
        own.written.sort_by_key(|own| KINDS.iter().position(|kind| *kind == own.kind));
        own
    }

    fn write(&mut self, known: &Known, today: Day) {
        let handed_out = self.milk(known);
        self.hay();
        self.grain();
        self.jars(handed_out);
        self.work();
        self.thing(["gear_price", "gear_year", "gear_life", "gear_left"], "Milking gear", "milking", today);
        self.thing(["fridge_price", "fridge_year", "fridge_life", "fridge_left"], "Fridge", "chilling", today);
        self.cows(known, today);
        self.bills();
    }

    /// Takes a figure that can be right on a farm of this size. Nothing is reckoned with one that cannot: it might be too long for
    /// that.
    fn reasonable(&mut self, name: &'static str, cell: Cell) {
        let figure = match &cell {
            Cell::Text(text) => figure_of(text).filter(|_| name != "who"),
            Cell::Whole(cents) => Some(Decimal::new(*cents, 2)),
            _ => None,
        };
        match figure {
            Some(figure) if figure < Decimal::ZERO => self.fault(name, "This cannot be below nothing. Take the minus away."),
            Some(figure) if figure > Decimal::from(MOST) => {
                self.fault(name, format!("{} is more than a farm of this size has. Look at it again.", trimmed(figure, 2)));
            }
            _ => {
                self.cells.insert(name, cell);
            }
        }
    }

    /// Answers that each can be right may come to what no farm has: a price for a drop of milk. Nothing is kept that could not be
    /// typed.
    fn refuse_what_is_no_record(&mut self, ways: Ways) {
        let value = |own: &Written, column: &str| {
            own.cells.iter().find(|(name, _)| *name == column).map_or_else(String::new, |(_, cell)| cell.clone())
        };
        let is_record = |own: &Written| kind(own.kind).is_some_and(|kind| read(kind, |column| value(own, column), ways).is_ok());
        let fields: Vec<&'static str> = self.written.iter().filter(|own| !is_record(own)).map(|own| own.field).collect();
        for field in fields {
            self.fault(field, "With the other answers this comes to a figure no farm has. Look at them again.");
        }
    }

    pub(super) fn fault(&mut self, field: &str, says: impl ToString) {
        self.remarks.push(Remark::fault(field, says));
    }

    pub(super) fn cell(&self, name: &str) -> &Cell {
        self.cells.get(name).unwrap_or(&Cell::Empty)
    }

    fn says(&self, name: &str) -> &str {
        self.cell(name).text()
    }

    fn figure(&self, name: &str) -> Option<Decimal> {
        figure_of(self.says(name))
    }

    /// A weight or an amount as a store keeps it: what is nothing in thousandths is nothing.
    fn in_store(&self, name: &str) -> Option<Decimal> {
        self.figure(name).map(|figure| rounded(figure, 3))
    }

    pub(super) fn money(&self, name: &str) -> Option<Money> {
        self.cell(name).whole().map(Money::cents)
    }

    fn days(&self) -> Decimal {
        Decimal::from(self.span.days())
    }

    /// The months these answers are about.
    fn months(&self) -> Decimal {
        if self.says("about") == ABOUT[1] { Decimal::ONE } else { Decimal::from(12) }
    }

    /// Whether all of these are answered. When only some are, the others are asked for; a field with a remark has its sentence.
    pub(super) fn all(&mut self, asked: &[(&'static str, &str)]) -> bool {
        let empty: Vec<&(&str, &str)> = asked.iter().filter(|(name, _)| is_empty(self.cell(name))).collect();
        if empty.len() == asked.len() {
            return false;
        }
        let missing: Vec<Remark> = empty
            .iter()
            .filter(|(name, _)| !self.remarks.iter().any(|own| own.field == *name))
            .map(|(name, says)| Remark::fault(name, says))
            .collect();
        let whole = empty.is_empty();
        self.remarks.extend(missing);
        whole
    }

    /// Asks for the milk a figure is shared out over, unless that was typed and has its own sentence.
    fn needs_milk(&mut self, field: &str, why: &str) {
        if !self.remarks.iter().any(|own| own.field == "handed_out") {
            self.fault(field, format!("Write how many half-gallons are handed out in a week too: {why}"));
        }
    }

    pub(super) fn keep(&mut self, kind: &'static str, field: &'static str, cells: Vec<(&'static str, String)>) {
        self.written.push(Written { kind, cells, field });
    }

    fn assume(&mut self, name: &str, field: &'static str, figure: String) {
        let cells = vec![("name", name.to_owned()), ("since", self.span.from.to_string()), ("figure", figure), ("note", NOTE.to_owned())];
        self.keep("assumptions", field, cells);
    }

    /// A ticket for these days, marked as a guess; nothing is not written down.
    fn ticket(&mut self, field: &'static str, (sort, what): (&str, &str), dollars: Decimal, more: Vec<(&'static str, String)>) {
        let amount = Money::round(dollars);
        if amount <= Money::ZERO {
            return;
        }
        let mut cells = vec![("paid", self.span.from.to_string()), ("sort", sort.to_owned()), ("what", what.to_owned())];
        cells.extend([
            ("amount", amount.to_string()),
            ("covers_from", self.span.from.to_string()),
            ("covers_to", self.span.to.to_string()),
        ]);
        cells.extend([("milk_share", "100".to_owned()), ("guess", "yes".to_owned())]);
        cells.extend(more);
        self.keep("tickets", field, cells);
    }

    /// The milk, and what it brings; gives the half-gallons handed out a week.
    fn milk(&mut self, known: &Known) -> Option<Decimal> {
        for (name, field) in [(MADE, "made"), (HANDED_OUT, "handed_out")] {
            if let Some(figure) = self.figure(field) {
                self.assume(name, field, trimmed(figure, 3));
            }
        }
        if self.figure("handed_out").zip(self.figure("made")).is_some_and(|(out, made)| out > made) {
            self.remarks.push(Remark::question("handed_out", "More handed out than the cows make? Keep it if it is so.", None));
        }
        let handed_out = self.figure("handed_out").or(known.handed_out).filter(|out| *out > Decimal::ZERO);
        match (self.money("brings"), self.money("boarding")) {
            (Some(_), Some(_)) => self.fault("boarding", "Write what a half-gallon brings or the boarding of a month, not both."),
            (Some(brings), None) => self.assume("a half-gallon brings", "brings", brings.to_string()),
            (None, Some(boarding)) => match handed_out {
                // Twelve months of boarding for 365 days of milk.
                Some(out) => {
                    let brings = boarding.dollars() * Decimal::from(12 * 7) / (out * Decimal::from(365));
                    self.assume("a half-gallon brings", "boarding", fixed(brings, 4));
                }
                None => self.needs_milk("boarding", "the boarding is shared out over them."),
            },
            (None, None) => {}
        }
        handed_out
    }

    fn store(&mut self, name: &str, field: &'static str, packs: String) {
        let cells =
            [("name", name), ("sort", "feed"), ("counted_in", "lb"), ("used_by", "as written"), ("milk_share", "100"), ("note", NOTE)];
        let mut cells: Vec<(&'static str, String)> = cells.map(|(column, says)| (column, says.to_owned())).to_vec();
        cells.extend([("since", self.span.from.to_string()), ("packs", packs)]);
        self.keep("stores", field, cells);
    }

    fn fed(&mut self, store: &str, field: &'static str, amount: Decimal, unit: &str) {
        let cells = [("store", store), ("unit", unit), ("each", "a day"), ("guess", "yes")];
        let mut cells: Vec<(&'static str, String)> = cells.map(|(column, says)| (column, says.to_owned())).to_vec();
        cells.extend([("since", self.span.from.to_string()), ("amount", trimmed(amount, 3))]);
        self.keep("feedings", field, cells);
    }

    fn hay(&mut self) {
        let asked = [
            ("hay_bales", "How many bales in a day?"),
            ("hay_price", "What does a bale cost?"),
            ("hay_weight", "A bale has no weight yet. Weigh ten of them and write the mean, like 45."),
        ];
        if !self.all(&asked) {
            return;
        }
        let (Some(bales), Some(price), Some(weight)) = (self.in_store("hay_bales"), self.money("hay_price"), self.in_store("hay_weight"))
        else {
            return;
        };
        if weight <= Decimal::ZERO {
            return self.fault("hay_weight", "A bale must weigh something: weigh ten of them and write the mean.");
        }
        if bales > Decimal::ZERO {
            let came = bales * self.days();
            self.store("Hay", "hay_weight", format!("bale = {}", trimmed(weight, 3)));
            let more = vec![("quantity", trimmed(came, 3)), ("unit", "bale".to_owned()), ("store", "Hay".to_owned())];
            self.ticket("hay_price", ("feed", "Hay"), came * price.dollars(), more);
            self.fed("Hay", "hay_bales", bales, "bale");
        }
    }

    fn grain(&mut self) {
        let asked = [
            ("grain_lb", "How many pounds in a day?"),
            ("grain_price", "What does it cost?"),
            ("grain_per", "Is that for a bag, or for a cwt?"),
        ];
        let by_bag = self.says("grain_per") == "bag";
        if by_bag && is_empty(self.cell("grain_weight")) && !self.remarks.iter().any(|own| own.field == "grain_weight") {
            self.fault("grain_weight", "A bag has no weight yet. It stands on the bag, like 50.");
        }
        if !self.all(&asked) {
            return;
        }
        let weight = if by_bag { self.in_store("grain_weight") } else { Some(Decimal::ONE_HUNDRED) };
        let (Some(pounds), Some(price), Some(weight)) = (self.in_store("grain_lb"), self.money("grain_price"), weight) else { return };
        if weight <= Decimal::ZERO {
            return self.fault("grain_weight", "A bag must weigh something. It stands on the bag, like 50.");
        }
        if pounds > Decimal::ZERO {
            let came = pounds * self.days();
            self.store("Grain", "grain_lb", if by_bag { format!("bag = {}", trimmed(weight, 3)) } else { String::new() });
            let more = vec![("quantity", trimmed(came, 3)), ("unit", "lb".to_owned()), ("store", "Grain".to_owned())];
            self.ticket("grain_price", ("feed", "Grain"), came * price.dollars() / weight, more);
            self.fed("Grain", "grain_lb", pounds, "lb");
        }
    }

    fn jars(&mut self, handed_out: Option<Decimal>) {
        let lid = self.figure("lid_price");
        let jars = self.all(&[("jar_price", "What does a jar cost?"), ("jars_lost", "How many out of a hundred do not come back?")]);
        let (price, lost) = (self.money("jar_price"), self.figure("jars_lost"));
        if lost.is_some_and(|lost| lost > Decimal::ONE_HUNDRED) {
            return self.fault("jars_lost", "Of a hundred jars no more than a hundred are lost.");
        }
        let filled = handed_out.map(|out| out * self.days() / Decimal::from(7));
        if filled.is_none() && (lid.is_some() || jars) {
            let field = if lid.is_some() { "lid_price" } else { "jar_price" };
            return self.needs_milk(field, "each takes a lid and a jar.");
        }
        let count = |filled: Decimal| vec![("quantity", fixed(filled, 0)), ("unit", "piece".to_owned())];
        if let Some((lid, filled)) = lid.zip(filled) {
            self.ticket("lid_price", ("jars and lids", "Lids"), lid * filled, count(filled));
        }
        if let (true, Some(price), Some(lost), Some(filled)) = (jars, price, lost, filled) {
            let gone = filled * lost / Decimal::ONE_HUNDRED;
            self.ticket("jar_price", ("jars and lids", "Jars lost"), price.dollars() * gone, count(gone));
        }
    }

    fn work(&mut self) {
        let person = self.says("who").to_owned();
        let mut sum = 0;
        for (field, job) in [("milking", "milking"), ("washing", "washing up"), ("feeding", "feeding"), ("other", "cow care")] {
            let Some(minutes) = self.cell(field).whole().filter(|minutes| *minutes > 0) else { continue };
            sum += minutes;
            let mut cells = vec![("since", self.span.from.to_string()), ("job", job.to_owned()), ("person", person.clone())];
            cells.push(("minutes", (minutes * 7).to_string()));
            self.keep("usual_weeks", field, cells);
        }
        if sum > 0 && person.is_empty() {
            self.fault("who", "Who does this work?");
        }
        if sum > 24 * 60 {
            self.fault(
                "milking",
                format!("All together that is {} hours a day, and a day has 24.", trimmed(Decimal::from(sum) / Decimal::from(60), 1)),
            );
        } else if sum > 16 * 60 {
            self.remarks.push(Remark::question(
                "milking",
                "All together that is more than 16 hours, every day. Keep it if it is so.",
                None,
            ));
        }
        if let Some(hour) = self.money("hour") {
            self.assume("worth of an hour", "hour", hour.to_string());
        }
    }

    fn bills(&mut self) {
        let (months, year) = (self.months(), Decimal::from(12));
        for (field, sort, what, times) in [
            ("power", "power", "Electricity", months),
            ("vet", "vet", "Vet and breeding", months / year),
            ("insurance", "insurance", "Insurance", months / year),
            ("permit", "permit", "Permit", months / year),
        ] {
            if let Some(amount) = self.money(field) {
                self.ticket(field, (sort, what), amount.dollars() * times, Vec::new());
            }
        }
    }
}
