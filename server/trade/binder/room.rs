//! Thermometers, washing, holds, call-backs, and complaints by their number.

use super::super::{
    figures::{Holds, Part, Table},
    when::{Day, Moment, day_shown},
};
use super::{Binder, Names};
use std::collections::BTreeMap;

/// A vessel that was emptied and washed.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Wash {
    /// The vessel.
    pub vessel: String,
    /// When.
    pub at: Moment,
    /// Whether it was both washed and sanitised: only that is a clean break.
    pub clean: bool,
}

/// A call-back, without anybody it reached.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct CalledBack {
    /// When it was opened.
    pub at: Moment,
    /// Whether it was for practice.
    pub practice: bool,
    /// Why.
    pub because: String,
    /// In a few words.
    pub note: String,
    /// Its lots.
    pub lots: Vec<String>,
    /// When it was closed.
    pub closed: Option<Moment>,
}

impl Binder {
    pub(super) fn checks_table(&self) -> Table {
        let columns = [("Thermometer", Holds::Repeats, 5), ("Checked", Holds::Words, 5), ("In ice water", Holds::Words, 12)];
        let mut table =
            Table::new("ice_checks", "Thermometers checked in ice water, the last check before these days included", &columns).dense();
        table.when_empty = "No check is written down.".to_owned();
        for own in &self.checks {
            let good = if own.is_good() { "" } else { " Off by more than 2 °F." };
            table.row([self.typed(own.thermometer.trim()), self.at(own.at), format!("{}{good}", self.typed(&own.sentence()))]);
        }
        table
    }

    /// One line a day, so that a year of washing is a few leaves.
    pub(super) fn washes_table(&self) -> Table {
        let columns = [("Day", Holds::Words, 3), ("Clean breaks, by vessel", Holds::Words, 14)];
        let caption = "Wash log: when each vessel was emptied, washed and sanitised (a clean break)";
        let mut table = Table::new("washes", caption, &columns).long().dense();
        table.when_empty = "No washing is written in these days.".to_owned();
        let mut days: BTreeMap<Day, BTreeMap<&str, Vec<String>>> = BTreeMap::new();
        for own in &self.washes {
            let clock = self.zone.clock(own.at);
            let says = if own.clean { clock } else { format!("{clock} (not both washed and sanitised)") };
            days.entry(self.zone.day(own.at)).or_default().entry(&own.vessel).or_default().push(says);
        }
        for (day, vessels) in days {
            let says: Vec<String> =
                vessels.into_iter().map(|(vessel, times)| format!("{} {}", self.typed(vessel), times.join(", "))).collect();
            table.row([day_shown(day), says.join(" · ")]);
        }
        table
    }

    pub(super) fn stops_parts(&self) -> Vec<Part> {
        let (all, ill) = self.complaints;
        let complaints = match all {
            0 => "No complaint was taken down in these days.".to_owned(),
            _ => format!(
                "Complaints taken down in these days: {all}; with somebody ill: {ill}. The complaint itself is not shown; the reasons of holds \
                 and call-backs are, as they were written{}.",
                if self.names == Names::On { "" } else { " but for the names and phones of households" }
            ),
        };
        vec![Part::Table(self.held_table()), Part::Table(self.called_table()), Part::Words(complaints)]
    }

    fn held_table(&self) -> Table {
        let columns =
            [("Held (withheld)", Holds::Words, 3), ("Since, by", Holds::Words, 5), ("Why", Holds::Words, 5), ("Lifted", Holds::Words, 7)];
        let mut table = Table::new("holds", "Holds and lifts", &columns).dense();
        table.when_empty = "Nothing was held in these days.".to_owned();
        for own in &self.held {
            let lifted = own
                .lifted
                .as_ref()
                .map_or_else(|| "not lifted".to_owned(), |(at, why, who)| format!("{} by {who}: {}", self.at(*at), self.typed(why)));
            table.row([own.what.clone(), format!("{}, {}", self.at(own.at), own.who), self.typed(&own.reason), lifted]);
        }
        table
    }

    fn called_table(&self) -> Table {
        let columns = [
            ("Opened", Holds::Words, 4),
            ("Why", Holds::Words, 7),
            ("Lots called back (recalled)", Holds::Words, 7),
            ("Closed", Holds::Words, 4),
        ];
        let mut table = Table::new("call_backs", "Call-backs (recalls)", &columns);
        table.when_empty = "Nothing was called back in these days.".to_owned();
        for own in &self.called_back {
            let practice = if own.practice { "for practice; " } else { "" };
            let note = if own.note.is_empty() { String::new() } else { format!(": {}", self.typed(&own.note)) };
            let closed = own.closed.map_or_else(|| "open".to_owned(), |at| self.at(at));
            table.row([self.at(own.at), format!("{practice}{}{note}", own.because), own.lots.join(", "), closed]);
        }
        table
    }
}
