//! The money of the households: every amount goes from one account to one other, and never changes afterwards.

use super::{ACCOUNTS, Kind, TRANSFERS as SORTS, may, must};
use crate::trade::records::Shape::{Count, Day, Key, Moment, Money, OneOf, Words};

pub(super) const TRANSFERS: Kind = Kind {
    name: "transfers",
    one: "entry in the books",
    key: None,
    happened: Some("day"),
    owner_only: true,
    columns: &[
        must("day", Day, "Day"),
        must("sort", OneOf(SORTS), "What it is"),
        must("from_account", OneOf(ACCOUNTS), "From"),
        must("to_account", OneOf(ACCOUNTS), "To"),
        may("person", Key("people"), "Household"),
        must("amount", Money, "Amount"),
        may("paid_by", OneOf(&["cash", "check", "transfer"]), "Paid by"),
        may("month", Day, "For the month that starts on"),
        may("jars", Count(1, 999), "Jars"),
        may("corrects", Key("transfers"), "Takes back entry"),
        may("note", Words(200), "Note"),
    ],
};

pub(super) const TIN_COUNTS: Kind = Kind {
    name: "tin_counts",
    one: "count of the cash tin",
    key: None,
    happened: Some("at"),
    owner_only: true,
    columns: &[must("at", Moment, "Counted at"), must("counted", Money, "In the tin"), must("counter", Words(60), "Counted by")],
};
