//! A pickup day's milk: how it was shared out, what stands packed for whom, and the empty jars that come back.

use super::{JARS, Kind, may, must};
use crate::trade::records::Shape::{Count, Day, Figure, Key, Moment, OneOf, Words};

pub(super) const PACKINGS: Kind = Kind {
    name: "packings",
    one: "packing",
    key: Some("day"),
    happened: Some("at"),
    owner_only: false,
    columns: &[
        must("day", Day, "For the pickup of"),
        must("at", Moment, "Packed at"),
        must("method", OneOf(super::WHEN_SHORT), "How it is shared when short"),
        must("ready", Count(0, 9999), "Half-gallons counted that may go"),
        may("note", Words(200), "Note"),
    ],
};

pub(super) const PORTIONS: Kind = Kind {
    name: "portions",
    one: "portion",
    key: None,
    happened: None,
    owner_only: true,
    columns: &[
        must("packing", Key("packings"), "Packing of"),
        must("person", Key("people"), "For"),
        must("promised", Figure, "Half-gallons promised"),
        must("fair", Figure, "Their part of what there was"),
        must("carried", Figure, "Carried from before"),
        must("jars", Count(0, 99), "Half-gallons packed"),
        may("reason", Words(200), "Why it differs from the sum"),
    ],
};

pub(super) const CRATES: Kind = Kind {
    name: "crates",
    one: "packed jar",
    key: None,
    happened: None,
    owner_only: false,
    columns: &[
        must("packing", Key("packings"), "Packing of"),
        must("person", Key("people"), "For"),
        must("lot", Key("lots"), "Lot"),
        must("half_gallons", Count(1, 99), "Half-gallons"),
    ],
};

pub(super) const EMPTIES: Kind = Kind {
    name: "empties",
    one: "empty jars owed or back",
    key: None,
    happened: Some("at"),
    owner_only: false,
    columns: &[
        must("at", Moment, "When"),
        must("person", Key("people"), "Household"),
        must("sort", OneOf(super::EMPTIES_SORTS), "What happened"),
        must("gallons", JARS, "Gallons"),
        must("half_gallons", JARS, "Half-gallons"),
        must("quarts", JARS, "Quarts"),
        must("pints", JARS, "Pints"),
        may("note", Words(200), "Note"),
    ],
};
