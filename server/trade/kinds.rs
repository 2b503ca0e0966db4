//! Every kind of record the ledger holds: its columns, what names it, and when it happened.
//!
//! This list is the farm folder's format, the shape of the ledger's tables and the source of every plain form, in the
//! order in which records lean on one another.

mod books;
mod callbacks;
mod costs;
mod farm;
mod herd;
mod jars;
mod members;
mod milk;
mod packing;
mod papers;

pub use super::records::Kind;

use super::records::{Column, FOREMILK, Shape};
use Shape::{Count, OneOf};

const YES_NO: Shape = OneOf(&["yes", "no"]);
const WEEKDAYS: Shape = OneOf(&["Monday", "Tuesday", "Wednesday", "Thursday", "Friday", "Saturday", "Sunday"]);
const CHANNELS: Shape = OneOf(CHANNEL_WORDS);
const QUARTERS: Shape = OneOf(&["left fore", "right fore", "left hind", "right hind", "all"]);
const JARS: Shape = Count(0, 999);

const fn must(name: &'static str, shape: Shape, label: &'static str) -> Column {
    Column { name, shape, may_be_empty: false, label }
}

const fn may(name: &'static str, shape: Shape, label: &'static str) -> Column {
    Column { name, shape, may_be_empty: true, label }
}

/// Every kind, each after the kinds it leans on.
pub const KINDS: &[Kind] = &[
    farm::FARM,
    farm::RULES,
    farm::ASSUMPTIONS,
    farm::PEOPLE,
    members::TERMS,
    members::SHARES,
    members::PAUSES,
    members::COLLECTORS,
    herd::COWS,
    herd::EVENTS,
    herd::TREATMENTS,
    herd::STRIP_TESTS,
    milk::VESSELS,
    milk::MILKINGS,
    milk::PAILS,
    milk::BREAKS,
    milk::LOTS,
    milk::SOURCES,
    milk::ICE_CHECKS,
    milk::CHILL,
    jars::COUNTS,
    jars::PICKUPS,
    packing::PACKINGS,
    packing::PORTIONS,
    packing::CRATES,
    packing::EMPTIES,
    jars::ASIDES,
    jars::HOLDS,
    jars::LIFTS,
    papers::DOCUMENTS,
    members::AGREEMENTS,
    papers::SAMPLES,
    papers::RESULTS,
    papers::RENEWALS,
    papers::NOTICES,
    papers::DECISIONS,
    papers::COMPLAINTS,
    callbacks::ANSWERS,
    callbacks::CALLBACKS,
    callbacks::CALLED,
    callbacks::CONTACTS,
    callbacks::TELLINGS,
    callbacks::MESSAGES,
    callbacks::MAILINGS,
    callbacks::DELIVERIES,
    callbacks::COURSES,
    callbacks::CONDITIONS,
    callbacks::CONDITIONS_MET,
    callbacks::WARM_FRIDGES,
    callbacks::WARMED,
    costs::STORES,
    costs::TICKETS,
    costs::FEEDINGS,
    costs::STORE_COUNTS,
    costs::GEAR,
    costs::MINUTES,
    costs::USUAL_WEEKS,
    costs::WORTHS,
    costs::APPLIANCES,
    costs::METER_READINGS,
    costs::BANK_TOTALS,
    costs::CHOICES,
    costs::WHAT_IFS,
    books::TRANSFERS,
    books::TIN_COUNTS,
];

/// What may be assumed in a cost, each by its name.
pub const ASSUMED: &[&str] = &[
    "worth of an hour",
    "payroll burden %",
    "interest %",
    "death loss %",
    "a half-gallon brings",
    "own land a month",
    "price of a kWh",
    "a quart of cream brings",
    "a half-gallon of skim brings",
    "weight of a cow, lb",
    "fat %",
    "protein %",
    "half-gallons made a week",
    "half-gallons handed out a week",
];

/// The ways of reckoning a farm chooses between: how cream shares the cost of its milk, and whether the household pays its share.
pub const CHOICES: &[&str] =
    &["cream by weight", "cream by what each brings", "cream as a by-product", "household milk costs nothing", "household pays its share"];

/// What minutes are spent on.
pub const JOBS: &[&str] = &["milking", "washing up", "filling", "feeding", "cow care", "delivery", "records"];

/// How what is kept in a store is used up.
pub const USED_BY: &[&str] = &["as written", "every day", "every milking", "every cow milked", "every jar filled"];

/// What can happen to a cow that changes where she stands.
pub const TURNS: &[&str] =
    &["calved", "joined the can", "kept out", "dried off", "left", "served", "in calf", "not in calf", "unwell", "well again"];

/// What a strip test of a quarter shows: California mastitis test scores.
pub const STRIP_SCORES: &[&str] = &["negative", "trace", "1", "2", "3"];

/// The ways milk may reach a household, and the one by which it reaches none.
pub const CHANNEL_WORDS: &[&str] = &["herdshare", "farm gate", "delivery", "collection point", "shop", "animal feed"];

/// What a household signs.
pub const AGREED: &[&str] = &["bill of sale", "boarding agreement", "acknowledgment of risk", "other"];

/// What the farm does about a week in which it had nothing for a household.
pub const MISSED: &[&str] = &["none", "evened up in jars", "boarding adjustment"];

/// How a short day's jars are shared out.
pub const WHEN_SHORT: &[&str] = &["pro rata", "rotation", "priority"];

/// What can happen to empty jars. The first two are jars a household owes; the other two settle them.
pub const EMPTIES_SORTS: &[&str] = &["first jars", "not brought back", "brought back", "broken or lost"];

/// The accounts of the books. `household` and `jar deposits` are one for each household.
pub const ACCOUNTS: &[&str] = &[
    "household",
    "jar deposits",
    "cash tin",
    "bank",
    "boarding",
    "share purchases",
    "milk at the gate",
    "adjustments",
    "write-offs",
    "tin over and short",
    "owner",
];

/// What an entry in the books is.
pub const TRANSFERS: &[&str] = &[
    "share purchase",
    "boarding",
    "milk at the gate",
    "jar deposit",
    "deposit given back",
    "adjustment",
    "payment",
    "paid back",
    "buy-back",
    "write-off",
    "bounced check",
    "tin counted",
    "moved to the bank",
    "owner draw",
    "owner contribution",
    "opening balance",
    "taken back",
];

/// What has to be done again before a day.
pub const RENEWED: &[&str] = &[
    "permit",
    "agreement",
    "insurance",
    "TB test",
    "brucellosis test",
    "rabies vaccination",
    "herd health exam",
    "vet exam with blood test",
    "inspection",
    "practice call-back",
    "other",
];

/// What somebody who rings about illness is asked, in the order in which it matters.
pub const ANSWERED: &[&str] = &[
    "in danger",
    "who is ill",
    "ill since",
    "doctor",
    "sample",
    "named",
    "picked up",
    "lot",
    "jar",
    "others",
    "made of it",
    "elsewhere",
    "became of it",
];

/// Why milk is called back.
pub const BECAUSE: &[&str] =
    &["illness", "pathogen found", "treated cow in the can", "not cold in time", "fridge found warm", "label or date", "other"];

/// How somebody is tried to be reached.
pub const REACHED_BY: &[&str] = &["phone", "text", "e-mail", "visit", "note at the door", "letter"];

/// What comes of a try.
pub const OUTCOMES: &[&str] = &["reached", "message left", "no answer", "wrong number"];

/// What became of jars that were handed out and called back.
pub const BECAME: &[&str] = &["drunk", "has it", "frozen", "gave away", "returned", "destroyed"];

/// What a call-back is worded for.
pub const WORDED: &[&str] = &["call script", "e-mail", "text", "door sheet"];

/// What becomes of an e-mail. The first is written before the server is spoken to, so that a program stopped in between never
/// sends it twice and never forgets it.
pub const MAILED: &[&str] = &["sending", "taken by the server", "put off", "refused", "not known"];

/// The steps of a call-back besides lots, tries and jars.
pub const COURSE: &[&str] = &[
    "health department told",
    "insurer told",
    "class by the authority",
    "public warned",
    "effectiveness checked",
    "cause",
    "correction",
    "prevention",
    "note",
    "closed",
    "opened again",
];

/// What a store may be of; each is also a sort of ticket.
pub const STORE_SORTS: &[&str] = &["feed", "bedding", "supplies", "jars and lids"];

/// What money is spent on, or comes back from.
pub const SPENT: &[&str] = &[
    "feed",
    "bedding",
    "supplies",
    "jars and lids",
    "vet",
    "breeding",
    "lab",
    "power",
    "insurance",
    "permit",
    "repairs",
    "driving",
    "land",
    "taxes and dues",
    "loan interest",
    "loan principal",
    "calf sold",
    "calf kept",
    "other",
];

/// The kind with this name.
#[must_use]
pub fn kind(name: &str) -> Option<&'static Kind> {
    KINDS.iter().find(|kind| kind.name == name)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_key_points_to_an_earlier_kind_or_its_own() {
        for (place, own) in KINDS.iter().enumerate() {
            for column in own.columns {
                if let Shape::Key(target) = column.shape {
                    let found = KINDS.iter().position(|kind| kind.name == target).unwrap();
                    assert!(found <= place, "{}.{} leans on a later kind", own.name, column.name);
                }
            }
            assert!(own.key.is_none_or(|key| own.place_of(key).is_some()), "{}", own.name);
            assert!(own.happened.is_none_or(|column| own.place_of(column).is_some()), "{}", own.name);
        }
    }
}
