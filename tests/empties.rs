//! Empty jars: what households owe, what is lost, and what a jar costs each time it goes out.

#![allow(clippy::unwrap_used, clippy::expect_used, reason = "a test may fail loudly")]

use crate::farm::Farm;
use rust_decimal::Decimal;
use tallypail::{
    store::{books, empties},
    trade::{
        jars::Jars,
        money::Money,
        transfers::{Account, by_household},
    },
    web::visitor::Role,
};

async fn wrote(farm: &Farm, at: &str, sort: &str, jars: &str) {
    let line = [("at", at), ("person", "M01"), ("sort", sort), ("gallons", "0"), ("half_gallons", jars), ("quarts", "0"), ("pints", "0")];
    farm.keep("empties", &line).await;
}

#[tokio::test]
async fn what_is_owed_is_the_sum_of_what_differed() {
    let farm = Farm::new().await;
    let lot = crate::mornings::fill(&farm, "2026-05-13", "40", true).await;
    let person = [("label", "M01"), ("name", "Ashgrove"), ("sort", "member"), ("channel", "herdshare"), ("since", "2026-01-02")];
    farm.keep("people", &person).await;
    farm.visit(Role::Owner, "/empties").await.says("No household owes a jar.").says("no jar has gone out");
    for (at, sort, jars) in [
        ("2026-05-01T17:00", "first jars", "3"),
        ("2026-05-07T17:00", "not brought back", "3"),
        ("2026-05-13T17:00", "brought back", "2"),
        ("2026-05-13T18:00", "broken or lost", "1"),
    ] {
        wrote(&farm, at, sort, jars).await;
    }
    let none = [("gallons", "0"), ("quarts", "0"), ("pints", "0")];
    let slip = [("at", "2026-05-13T18:00"), ("person", "M01"), ("sort", "brought back"), ("half_gallons", "450")];
    let slip = farm.submit(Role::Owner, "/records/empties", &[slip.as_slice(), &none].concat()).await;
    slip.came_with(422).says("450 jars at once is more than a household has.");
    let deposit = [
        ("day", "2026-05-01"),
        ("sort", "jar deposit"),
        ("from_account", "jar deposits"),
        ("to_account", "household"),
        ("person", "M01"),
        ("amount", "12.00"),
    ];
    farm.keep("transfers", &deposit).await;
    let broken = [
        ("at", "2026-05-14T09:00"),
        ("lot", lot.as_str()),
        ("sort", "broken"),
        ("gallons", "0"),
        ("half_gallons", "1"),
        ("quarts", "0"),
        ("pints", "0"),
    ];
    farm.keep("asides", &broken).await;
    let out = [("person", "M01"), ("lot", lot.as_str()), ("half_gallons", "20"), ("evidence", "seen"), ("already", "M01")];
    farm.submit(Role::Owner, "/pickup", &out).await.came_with(303);
    let ticket = [
        ("paid", "2026-04-18"),
        ("sort", "jars and lids"),
        ("what", "Jars, 6 dozen"),
        ("amount", "241.20"),
        ("quantity", "72"),
        ("unit", "jar"),
        ("milk_share", "100"),
        ("guess", "no"),
    ];
    farm.keep("tickets", &ticket).await;

    let zone = farm.ways().await.zone;
    let mut db = farm.ledger.read().await.unwrap();
    let deposits = by_household(&books::all(&mut db).await.unwrap(), Account::JarDeposits);
    let out = empties::out(&mut db, zone.day(farm.now), zone, &deposits).await.unwrap();
    drop(db);
    assert_eq!((out.households.len(), out.households[0].jars, out.households[0].deposit), (1, Jars::halves(3), Money::cents(1200)));
    assert_eq!((out.loss.lost, out.loss.went_out), (2, 20));
    // 241.20 for 72 is 3.35 each; 2 lost of 20 is one in ten.
    assert_eq!(out.loss.cost_of_a_use(out.new_jar.clone().unwrap().0), Some(Decimal::new(335, 3)));
    let page = farm.visit(Role::Owner, "/empties").await;
    page.says("M01 Ashgrove")
        .says("3 half-gallons")
        .says("12.00")
        .says("2 of 20 that went out")
        .says("so a jar costs $0.335 each time it goes out");
    farm.visit(Role::Helper, "/empties").await.came_with(403);
}
