//! The sample farm. Fifteen months of Tansyditch Farm are made here, the same every time, so that every page has
//! something to show on the first day and every report has something to add up. All of it is invented.
//!
//! `TALLYPAIL_WRITE_SAMPLE=1 cargo test the_sample_farm` writes `sample-data/` afresh.

mod badday;
mod barn;
mod checks;
mod desk;
mod families;
mod fridge;
mod herd;
mod lab;
mod ledger;
mod milkroom;
mod money;
mod packing;
mod pen;
mod plausible;
mod reckoning;
mod stocked;
mod stores;
mod tickets;
mod year;

use milkroom::Shelf;
use pen::{Pen, day};
use std::{collections::BTreeMap, path::PathBuf, sync::LazyLock};
use tallypail::{
    paper::folder::{self, Files},
    trade::{
        book::Book,
        when::{Day, Moment},
    },
};

/// The last day written: a Saturday, with its pickup still to come.
fn demo_day() -> Day {
    day("2026-11-21")
}

/// What the clock shows when the sample farm is looked at.
fn demo_clock() -> Moment {
    Pen::new().at(demo_day(), "15:05")
}

/// The farm as it is lived through, day by day.
struct Farm {
    pen: Pen,
    fridge: Vec<Shelf>,
    fills: usize,
    sheet: i64,
    brought_back: Vec<(&'static str, Shelf)>,
    complaint_holds: Vec<(i64, i64)>,
    second_bottle: Option<Day>,
    carried: packing::Carried,
    /// The empties somebody forgot, by their number.
    forgotten: BTreeMap<i64, i64>,
}

/// The whole farm, made once for all checks.
fn book() -> &'static Book {
    static BOOK: LazyLock<Book> = LazyLock::new(made);
    &BOOK
}

fn made() -> Book {
    let mut farm = Farm {
        pen: Pen::new(),
        fridge: Vec::new(),
        fills: 0,
        sheet: 0,
        brought_back: Vec::new(),
        complaint_holds: Vec::new(),
        second_bottle: None,
        carried: packing::Carried::default(),
        forgotten: BTreeMap::new(),
    };
    farm.set_up();
    farm.reckoning();
    farm.stores();
    farm.people();
    farm.shares();
    farm.first_jars();
    farm.herd_book();
    farm.vessels();
    farm.strip_tests();
    farm.renewals();
    farm.notices();
    for on in day("2025-09-01").iter_days().take_while(|on| *on <= demo_day()) {
        farm.live(on);
    }
    farm.tickets(demo_day());
    farm.store_counts();
    farm.money();
    farm.pen.book
}

impl Farm {
    fn live(&mut self, on: Day) {
        self.fills = 0;
        let morning = self.milk(on, "AM");
        self.fill(on, "AM", &morning);
        self.wash(on, "AM");
        self.bottles(on);
        self.resumed(on);
        self.complaint_over(on);
        self.samples(on);
        self.calves_get_what_cannot_be_told(on);
        self.skim(on);
        self.decide(on);
        self.house(on);
        self.ice_check(on);
        if on == demo_day() {
            return;
        }
        self.pickup(on);
        let evening = self.milk(on, "PM");
        self.fill(on, "PM", &evening);
        self.wash(on, "PM");
        self.clear_held(on);
        self.complaint(on);
        self.called_back(on);
        self.damsons_last_jars(on);
        self.lab_called(on);
        self.evening(on);
        self.count(on);
        self.minutes(on);
    }
}

/// The sample farm's folder.
pub fn files() -> Files {
    folder::write(book())
}

fn home() -> PathBuf {
    PathBuf::from(env!("CARGO_MANIFEST_DIR")).join("sample-data")
}
