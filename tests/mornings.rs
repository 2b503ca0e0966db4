//! Mornings of the invented farm, as records: milkings, the lots filled from them and the rules they are judged by.

#![allow(clippy::unwrap_used, reason = "a test may fail loudly")]

use super::farm::Farm;
use tallypail::trade::{codes::LotCode, when::parse_day};

/// Rules of the farm's own, followed from the second day of the year.
pub async fn follow(farm: &Farm, cells: &[(&str, &str)]) {
    let own = [("place", "own"), ("since", "2026-01-02"), ("title", "Own rules"), ("citation", "Test Code 1"), ("sure", "our own choice")];
    let steps = if cells.iter().any(|(name, _)| *name == "steps") {
        &[][..]
    } else {
        &[("steps", "cool 40 °F within 120 min of milking end [chosen]")]
    };
    farm.keep("rules", &[&own[..], steps, cells].concat()).await;
}

/// One milking of Damson into the can.
pub async fn milked(farm: &Farm, session: &str, started: &str, ended: &str) {
    poured(farm, session, started, ended, "17.2 lb").await;
}

async fn poured(farm: &Farm, session: &str, started: &str, ended: &str, pounds: &str) {
    farm.keep("milkings", &[("session", session), ("started", started), ("ended", ended), ("milker", "Mina"), ("well", "yes")]).await;
    let pail = [("milking", session), ("cow", "Damson"), ("read", pounds), ("milk", pounds), ("went", "can"), ("vessel", "Can 1")];
    farm.keep("pails", &[&pail[..], &[("foremilk", "ok")]].concat()).await;
}

/// A lot of six half-gallons, filled at a time from some milkings.
pub async fn filled(farm: &Farm, code: &str, when: &str, sessions: &[&str]) {
    jars(farm, code, when, sessions, "6").await;
}

async fn jars(farm: &Farm, code: &str, when: &str, sessions: &[&str], halves: &str) {
    let jars = [("gallons", "0"), ("half_gallons", halves), ("quarts", "0"), ("pints", "0")];
    farm.keep("lots", &[&[("code", code), ("filled", when), ("vessel", "Can 1")][..], &jars].concat()).await;
    for session in sessions {
        farm.keep("sources", &[("lot", code), ("milking", session)]).await;
    }
}

/// Milks one morning, and writes down the break that parts it from the milk before: the milking's name.
pub async fn milk(farm: &Farm, day: &str) -> String {
    let (session, at) = (format!("{day} AM"), |clock: &str| format!("{day}T{clock}"));
    let clean = [("vessel", "Can 1"), ("at", &at("05:00")), ("washed", "yes"), ("sanitised", "yes"), ("done_by", "Mina")];
    farm.keep("breaks", &clean).await;
    poured(farm, &session, &at("05:40"), &at("06:15"), "24 lb").await;
    session
}

/// The code of the `nth` fill of a day.
pub fn code(day: &str, nth: usize) -> String {
    LotCode::of_fill(parse_day(day).unwrap(), nth).unwrap().to_string()
}

/// Fills so many half-gallons from one morning's milk, which is read cold in time or not at all: the lot's code.
pub async fn fill(farm: &Farm, day: &str, halves: &str, cold: bool) -> String {
    let (session, code) = (milk(farm, day).await, code(day, 0));
    jars(farm, &code, &format!("{day}T06:20"), &[&session], halves).await;
    if cold {
        farm.keep("chill", &[("lot", &code), ("at", &format!("{day}T07:30")), ("temperature", "38 °F")]).await;
    }
    code
}
