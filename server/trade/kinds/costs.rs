//! What it costs.

use super::{CHOICES as CHOSEN, JOBS, Kind, SPENT, STORE_SORTS, USED_BY, YES_NO, may, must};
use crate::trade::records::Shape::{Count, Day, Figure, Heat, Key, Money, OneOf, Packs, WhatIf, Words};

pub(super) const STORES: Kind = Kind {
    name: "stores",
    one: "store",
    key: Some("name"),
    happened: Some("since"),
    owner_only: true,
    columns: &[
        must("name", Words(60), "What is kept"),
        must("sort", OneOf(STORE_SORTS), "Sort"),
        must("since", Day, "Kept since"),
        must("counted_in", OneOf(&["lb", "piece", "mL"]), "Counted in"),
        may("packs", Packs, "What a bale, bag or box of it holds"),
        must("used_by", OneOf(USED_BY), "How it is used up"),
        may("used_amount", Figure, "How much each time"),
        must("milk_share", Count(0, 100), "Part for milk, %"),
        may("dry_matter", Figure, "Dry matter, %"),
        may("waste", Figure, "Wasted at feeding, %"),
        may("note", Words(200), "Where these figures come from"),
    ],
};

pub(super) const TICKETS: Kind = Kind {
    name: "tickets",
    one: "ticket",
    key: None,
    happened: Some("paid"),
    owner_only: true,
    columns: &[
        must("paid", Day, "Paid on"),
        must("sort", OneOf(SPENT), "Sort"),
        must("what", Words(100), "What"),
        may("supplier", Words(80), "From"),
        must("amount", Money, "Amount"),
        may("quantity", Figure, "Quantity"),
        may("unit", Words(20), "Unit"),
        may("store", Key("stores"), "Goes into the store of"),
        may("cow", Key("cows"), "For one cow alone"),
        may("covers_from", Day, "Used from"),
        may("covers_to", Day, "Used to"),
        must("milk_share", Count(0, 100), "Part for milk, %"),
        must("guess", YES_NO, "A guess, not a ticket"),
    ],
};

pub(super) const GEAR: Kind = Kind {
    name: "gear",
    one: "gear",
    key: Some("name"),
    happened: Some("bought"),
    owner_only: true,
    columns: &[
        must("name", Words(80), "Name"),
        must("sort", OneOf(&["gear", "cow"]), "Gear or cow"),
        may("cow", Key("cows"), "Cow"),
        must("bought", Day, "Bought or entered the herd on"),
        may("gone", Day, "Gone on"),
        must("price", Money, "Price"),
        must("salvage", Money, "Worth at the end"),
        must("life_years", Count(1, 60), "Life, years"),
        must("milk_share", Count(0, 100), "Part for milk, %"),
        may("serves", OneOf(&["milking", "chilling", "jars", "barn and land"]), "Serves"),
        may("left_by", OneOf(&["sold", "died", "worn out", "given away"]), "How it left"),
        may("brought", Money, "What it brought when it left"),
    ],
};

pub(super) const FEEDINGS: Kind = Kind {
    name: "feedings",
    one: "feeding",
    key: None,
    happened: Some("since"),
    owner_only: true,
    columns: &[
        must("store", Key("stores"), "What is fed"),
        must("since", Day, "From"),
        may("until", Day, "To, or empty: it goes on"),
        must("amount", Figure, "Amount"),
        must("unit", Words(20), "Unit"),
        must("each", OneOf(&["a day", "in all"]), "Each"),
        may("cow", Key("cows"), "To one cow alone"),
        must("guess", YES_NO, "A guess, not weighed"),
    ],
};

pub(super) const STORE_COUNTS: Kind = Kind {
    name: "store_counts",
    one: "count of a store",
    key: None,
    happened: Some("day"),
    owner_only: true,
    columns: &[
        must("store", Key("stores"), "Store"),
        must("day", Day, "Counted in the evening of"),
        must("amount", Figure, "Left"),
        must("unit", Words(20), "Unit"),
        may("note", Words(200), "Note"),
    ],
};

pub(super) const MINUTES: Kind = Kind {
    name: "minutes",
    one: "time spent",
    key: None,
    happened: Some("day"),
    owner_only: true,
    columns: &[
        must("day", Day, "Day"),
        must("job", OneOf(JOBS), "Job"),
        must("person", Words(60), "Who"),
        must("minutes", Count(1, 10_080), "Minutes"),
        may("over", OneOf(&["the day", "the week"]), "Over"),
        may("wage", Money, "Paid an hour, if hired"),
        must("guess", YES_NO, "A guess, not timed"),
    ],
};

pub(super) const USUAL_WEEKS: Kind = Kind {
    name: "usual_weeks",
    one: "line of the usual week",
    key: None,
    happened: Some("since"),
    owner_only: true,
    columns: &[
        must("since", Day, "From"),
        may("until", Day, "To, or empty: it goes on"),
        must("job", OneOf(JOBS), "Job"),
        must("person", Words(60), "Who"),
        must("minutes", Count(1, 10_080), "Minutes in a usual week"),
        may("wage", Money, "Paid an hour, if hired"),
    ],
};

pub(super) const WORTHS: Kind = Kind {
    name: "worths",
    one: "worth of somebody's hour",
    key: None,
    happened: Some("since"),
    owner_only: true,
    columns: &[
        must("person", Words(60), "Who"),
        must("since", Day, "From"),
        must("worth", Money, "What an unpaid hour is worth"),
        must("note", Words(200), "Where it comes from"),
    ],
};

pub(super) const APPLIANCES: Kind = Kind {
    name: "appliances",
    one: "appliance",
    key: Some("name"),
    happened: Some("since"),
    owner_only: true,
    columns: &[
        must("name", Words(60), "Name"),
        must("since", Day, "From"),
        may("until", Day, "To, or empty: it goes on"),
        must("sort", OneOf(&["motor", "heats water", "chills milk", "so much a year"]), "What it does"),
        may("kilowatts", Figure, "Motor: kilowatts"),
        may("minutes", Count(1, 1_440), "Motor: minutes a day"),
        may("gallons", Figure, "Water: gallons a day"),
        may("starts_at", Heat, "Water or milk: starts at"),
        may("ends_at", Heat, "Water or milk: ends at"),
        may("efficiency", Figure, "Water: heater's efficiency, %"),
        may("times", Figure, "Milk: heat moved for each part of current"),
        may("kilowatt_hours", Figure, "So much a year: kWh on its label"),
        may("note", Words(200), "Where these figures come from"),
    ],
};

pub(super) const METER_READINGS: Kind = Kind {
    name: "meter_readings",
    one: "meter reading",
    key: None,
    happened: Some("day"),
    owner_only: true,
    columns: &[
        must("day", Day, "Read in the evening of"),
        must("reading", Figure, "The milk room's meter reads, kWh"),
        may("note", Words(200), "Note"),
    ],
};

pub(super) const BANK_TOTALS: Kind = Kind {
    name: "bank_totals",
    one: "bank total",
    key: None,
    happened: Some("until"),
    owner_only: true,
    columns: &[
        must("since", Day, "From"),
        must("until", Day, "To"),
        must("paid_out", Money, "Went out for the farm, by bank and tin"),
        may("note", Words(200), "Note"),
    ],
};

pub(super) const CHOICES: Kind = Kind {
    name: "choices",
    one: "way of reckoning",
    key: None,
    happened: Some("since"),
    owner_only: true,
    columns: &[must("since", Day, "From"), must("choice", OneOf(CHOSEN), "Way of reckoning"), must("note", Words(200), "Why")],
};

pub(super) const WHAT_IFS: Kind = Kind {
    name: "what_ifs",
    one: "what-if",
    key: Some("name"),
    happened: Some("made"),
    owner_only: true,
    columns: &[
        must("name", Words(60), "Name"),
        must("made", Day, "Thought of on"),
        must("changes", WhatIf, "What is changed"),
        may("note", Words(200), "Note"),
    ],
};
