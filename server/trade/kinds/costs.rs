//! What it costs.

use super::{Kind, SPENT, YES_NO, may, must};
use crate::trade::records::Shape::{Count, Day, Figure, Key, Money, OneOf, Words};

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
        must("job", OneOf(&["milking", "washing up", "filling", "feeding", "cow care", "delivery", "records"]), "Job"),
        must("person", Words(60), "Who"),
        must("minutes", Count(1, 960), "Minutes"),
        may("wage", Money, "Paid an hour, if hired"),
        must("guess", YES_NO, "A guess, not timed"),
    ],
};
