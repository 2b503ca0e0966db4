//! Permits and other papers, the households' own where the rules ask for them, and the files that are kept.

use super::super::{
    capital,
    figures::{Cell, Holds, Table},
    gaps::About,
    when::{Moment, day_shown},
};
use super::Binder;

/// What a kept paper is of.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Paper {
    /// Its sort, which its file is named after: `permit`, `lab`, `notice`, `agreement`.
    pub sort: String,
    /// What it is of, in words.
    pub of: String,
}

/// A file that is kept, by what it is of.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Kept {
    /// The number of its record.
    pub number: i64,
    /// What it is of.
    pub paper: Paper,
    /// When it was kept.
    pub at: Moment,
    /// Its length in bytes.
    pub size: i64,
    /// The SHA-256 of its bytes.
    pub hash: String,
}

impl Kept {
    /// Its name in a folder. What somebody called the file may name anybody, so it is named by its sort and its number.
    #[must_use]
    pub fn file(&self) -> String {
        let plain: String = self.paper.sort.chars().map(|c| if c.is_ascii_alphanumeric() { c.to_ascii_lowercase() } else { '-' }).collect();
        format!("papers/{plain}-{}.pdf", self.number)
    }
}

impl Binder {
    pub(super) fn papers_table(&self) -> Table {
        let columns = [
            ("Sort", Holds::Repeats, 4),
            ("Paper, as written", Holds::Words, 9),
            ("Done or signed", Holds::Words, 4),
            ("Good to", Holds::Words, 4),
        ];
        let mut table = Table::new("papers", "Every paper that was good on a day of these days", &columns).dense();
        table.when_empty = "No permit or other paper is written down for these days.".to_owned();
        for own in self.renewals.iter().filter(|own| !Binder::is_of_the_herd(own)) {
            let until = own.until.map_or_else(|| "no day named".to_owned(), day_shown);
            table.row([capital(&own.sort), self.typed(&own.what), day_shown(own.done), until]);
        }
        table
    }

    pub(super) fn households_table(&self) -> Table {
        let columns = [
            ("Household", Holds::Words, 4),
            ("Milk by", Holds::Repeats, 3),
            ("The rules ask for", Holds::Repeats, 5),
            ("Signed", Holds::Words, 6),
            ("How it stands", Holds::Words, 5),
        ];
        let mut table = Table::new("households", "Each household, with what the rules ask it to sign", &columns).dense();
        table.when_empty = "Nobody was with the farm.".to_owned();
        let with_names = self.names == super::Names::On;
        for own in self.households.iter().flatten() {
            let called = if with_names { format!("{} {}", own.label, own.name) } else { own.label.clone() };
            let needs: Vec<String> = own.needs.iter().map(ToString::to_string).collect();
            table.rows.push(vec![
                self.leading(called, &About::Household(own.label.clone())),
                Cell::says(own.way.to_string()),
                Cell::says(if needs.is_empty() { "nothing is named".to_owned() } else { needs.join(", ") }),
                Cell::says(own.signed(self.span.to)),
                Cell::says(own.stands(self.span.to)),
            ]);
        }
        table
    }

    pub(super) fn kept_table(&self) -> Table {
        let columns =
            [("Of", Holds::Words, 8), ("Kept", Holds::Words, 5), ("Bytes", Holds::Figures, 3), ("In the folder", Holds::Words, 6)];
        let mut table =
            Table::new("kept", "Papers kept in the ledger that belong to these days; the folder holds the files themselves", &columns);
        table.when_empty = "No paper of these days is kept as a file.".to_owned();
        for own in &self.kept {
            table.row([self.typed(&own.paper.of), self.at(own.at), own.size.to_string(), own.file()]);
        }
        table
    }
}
