//! What a household owns or is promised, on what terms, and when it does not come.

use super::{AGREED, CHANNELS, Kind, may, must};
use crate::trade::records::Shape::{Count, Day, Key, Money, OneOf, Part, Words};

pub(super) const TERMS: Kind = Kind {
    name: "terms",
    one: "terms of a way",
    key: None,
    happened: Some("since"),
    owner_only: true,
    columns: &[
        must("channel", CHANNELS, "How the milk reaches them"),
        must("since", Day, "From"),
        may("share_cost", Money, "Buying into the herd, one share"),
        may("boarding", Money, "Boarding of one share, a month"),
        may("jar", Money, "One half-gallon at the gate"),
        may("deposit", Money, "Deposit on one jar, owed back"),
        may("missed", OneOf(super::MISSED), "A week the farm missed"),
        may("herd_shares", Count(1, 2000), "Shares the herd is divided into"),
        may("note", Words(200), "Note"),
    ],
};

pub(super) const SHARES: Kind = Kind {
    name: "shares",
    one: "share or standing promise",
    key: None,
    happened: Some("since"),
    owner_only: true,
    columns: &[
        must("person", Key("people"), "Whose"),
        may("share", Words(12), "Share, by its number"),
        must("part", Part, "How much of it"),
        must("half_gallons", Count(0, 60), "Half-gallons a week for a whole one"),
        must("channel", CHANNELS, "How the milk reaches them"),
        must("since", Day, "Since"),
        may("until", Day, "Until"),
        may("place", Count(1, 999), "Place in the chosen order, when short"),
        may("note", Words(200), "Note"),
    ],
};

pub(super) const PAUSES: Kind = Kind {
    name: "pauses",
    one: "pause",
    key: None,
    happened: Some("since"),
    owner_only: true,
    columns: &[
        may("person", Key("people"), "Who; empty for everybody"),
        must("since", Day, "First day"),
        must("until", Day, "Last day"),
        may("moved_to", Day, "Pickup moved to"),
        may("note", Words(200), "Note, never about health"),
    ],
};

pub(super) const COLLECTORS: Kind = Kind {
    name: "collectors",
    one: "stand-in collector",
    key: None,
    happened: Some("since"),
    owner_only: true,
    columns: &[
        must("person", Key("people"), "Fetches for"),
        must("name", Words(80), "Name"),
        may("reach", Words(80), "How to reach them"),
        must("since", Day, "Since"),
        may("until", Day, "Until"),
    ],
};

pub(super) const AGREEMENTS: Kind = Kind {
    name: "agreements",
    one: "agreement",
    key: None,
    happened: Some("given"),
    owner_only: true,
    columns: &[
        must("person", Key("people"), "With"),
        must("sort", OneOf(AGREED), "Sort"),
        must("given", Day, "Given to them on"),
        may("signed", Day, "Signed on"),
        may("until", Day, "Good to"),
        may("document", Key("documents"), "The paper"),
        may("note", Words(200), "Note"),
    ],
};
