//! The sample farm, carried in the program, so that the demo needs no file beside it.

use super::folder::Files;

macro_rules! carried {
    ($($name:literal),* $(,)?) => { [$(($name, include_bytes!(concat!("../../sample-data/", $name)).as_slice())),*] };
}

/// The files of the sample farm.
#[must_use]
pub fn files() -> Files {
    carried!(
        "README.txt",
        "farm.csv",
        "rules.csv",
        "assumptions.csv",
        "people.csv",
        "terms.csv",
        "shares.csv",
        "pauses.csv",
        "collectors.csv",
        "cows.csv",
        "events.csv",
        "treatments.csv",
        "strip_tests.csv",
        "vessels.csv",
        "milkings.csv",
        "pails.csv",
        "breaks.csv",
        "lots.csv",
        "sources.csv",
        "ice_checks.csv",
        "chill.csv",
        "counts.csv",
        "pickups.csv",
        "packings.csv",
        "portions.csv",
        "crates.csv",
        "empties.csv",
        "asides.csv",
        "holds.csv",
        "lifts.csv",
        "documents.csv",
        "agreements.csv",
        "samples.csv",
        "results.csv",
        "renewals.csv",
        "notices.csv",
        "decisions.csv",
        "complaints.csv",
        "answers.csv",
        "callbacks.csv",
        "called.csv",
        "contacts.csv",
        "tellings.csv",
        "messages.csv",
        "mailings.csv",
        "deliveries.csv",
        "courses.csv",
        "conditions.csv",
        "conditions_met.csv",
        "warm_fridges.csv",
        "warmed.csv",
        "stores.csv",
        "tickets.csv",
        "feedings.csv",
        "store_counts.csv",
        "gear.csv",
        "minutes.csv",
        "usual_weeks.csv",
        "worths.csv",
        "appliances.csv",
        "meter_readings.csv",
        "bank_totals.csv",
        "choices.csv",
        "what_ifs.csv",
        "transfers.csv",
        "tin_counts.csv",
        "struck.csv",
    )
    .into_iter()
    .map(|(name, bytes)| (name.to_owned(), bytes.to_vec()))
    .collect()
}
