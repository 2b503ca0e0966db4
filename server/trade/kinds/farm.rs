//! The farm itself, its rules, what it takes for granted, and who drinks the milk.

use super::{ASSUMED, CHANNELS, Kind, WEEKDAYS, YES_NO, may, must};
use crate::trade::records::Shape::{Caps, Channels, Count, Day, Figure, Heat, Limits, Needs, Note, OneOf, Steps, Tests, Words, Zone};

pub(super) const FARM: Kind = Kind {
    name: "farm",
    one: "farm",
    key: Some("name"),
    happened: Some("since"),
    owner_only: true,
    columns: &[
        must("name", Words(80), "Name of the farm"),
        must("since", Day, "Records start on"),
        must("zone", Zone, "Time zone"),
        must("scale", OneOf(&["°F", "°C"]), "Thermometers read in"),
        may("address", Words(160), "Address"),
        may("phone", Words(40), "Phone"),
        may("vet", Words(120), "Vet, with phone"),
        may("health", Words(160), "Health department, with phone"),
        may("insurer", Words(160), "Insurer, with phone"),
        may("warm_at", Heat, "House rule for a fridge found warm: a jar warmer than this"),
        may("warm_hours", Count(0, 48), "for more hours than this, or for unknown hours, is thrown out"),
        may("lid_page", YES_NO, "Anybody may ask by a lot code whether a jar is called back"),
    ],
};

pub(super) const RULES: Kind = Kind {
    name: "rules",
    one: "rule set",
    key: Some("place"),
    happened: Some("since"),
    owner_only: true,
    columns: &[
        must("place", Words(60), "Rule set"),
        must("since", Day, "Followed from"),
        must("title", Words(160), "Title"),
        may("citation", Words(300), "Citation"),
        may("url", Words(300), "Where it was read"),
        may("text_date", Words(160), "Date of the text"),
        must("sure", OneOf(&["read in the law", "read second-hand", "from memory", "our own choice"]), "How sure"),
        may("beside", YES_NO, "Stands beside the rules before it, for other ways"),
        may("channels", Channels, "Ways of handing out it allows"),
        may("needs", Needs, "What a household needs first"),
        may("steps", Steps, "Chill steps"),
        may("limits", Limits, "Limits of what the lab finds"),
        may("tests", Tests, "How often things are tested"),
        may("caps", Caps, "How much, and how many cows"),
        may("resample_after", Count(0, 90), "Sample again, not before so many days after notice"),
        may("resample_within", Count(0, 365), "Sample again, within so many days of notice"),
        may("fresh_before", Count(0, 90), "Days before calving kept out"),
        may("fresh_days", Count(0, 30), "Days after calving kept out"),
        may("fresh_milkings", Count(0, 60), "Milkings after calving kept out"),
        may("strip_fails", OneOf(&["trace", "1", "2", "3"]), "Strip test keeps a cow out from"),
        may("best_by_days", Count(1, 60), "Best-by days"),
        may("best_by_from", OneOf(&["filling", "oldest milking"]), "Best-by counts from"),
        may("keep_years", Count(0, 50), "Records kept, years"),
        may("notes", Note(4000), "Notes"),
        may("check_by", Day, "Check again by"),
        may("why", Words(200), "Why this version"),
    ],
};

pub(super) const ASSUMPTIONS: Kind = Kind {
    name: "assumptions",
    one: "assumption",
    key: Some("name"),
    happened: Some("since"),
    owner_only: true,
    columns: &[
        must("name", OneOf(ASSUMED), "What is assumed"),
        must("since", Day, "From"),
        must("figure", Figure, "Figure"),
        must("note", Words(200), "Where it comes from"),
    ],
};

pub(super) const PEOPLE: Kind = Kind {
    name: "people",
    one: "member or walk-in",
    key: Some("label"),
    happened: Some("since"),
    owner_only: true,
    columns: &[
        must("label", Words(12), "Number"),
        must("name", Words(80), "Name"),
        must("sort", OneOf(&["member", "walk-in"]), "Member or walk-in"),
        must("channel", CHANNELS, "How the milk reaches them"),
        may("phone", Words(40), "Phone"),
        may("second_way", Words(80), "Second way to reach them"),
        may("pickup_day", WEEKDAYS, "Pickup day"),
        must("since", Day, "Since"),
        may("until", Day, "Until"),
        may("note", Words(200), "Note, never about health"),
    ],
};
