//! Making a pass: the days it may show, and the address on its card.

use crate::{
    farm::Farm,
    pass::{come_in, look, make},
};
use tallypail::web::visitor::Role;

/// A pass is made the evening before: it opens until the end of the day of the visit, and shows the milking of its morning.
#[tokio::test]
async fn a_pass_made_the_evening_before_shows_the_morning_of_the_visit() {
    let mut farm = Farm::new().await;
    farm.clock("2026-05-13T20:00");
    let form = farm.visit(Role::Owner, "/binder/pass").await;
    assert_eq!(
        form.text.matches("value=\"2026-05-14\"").count(),
        2,
        "tomorrow is the last day it shows and the last it opens: {}",
        form.text
    );
    let cookie = come_in(&farm, &make(&farm, &[("last_day", "2026-05-14")]).await).await;
    // What has not come is no gap of the day before.
    look(&farm, &cookie, "/pass/binder").await.came_with(200).says("to Thu 14 May 2026").never_says("6134A-S");
    farm.clock("2026-05-14T08:00");
    let milking = [("session", "2026-05-14 AM"), ("started", "2026-05-14T05:40"), ("ended", "2026-05-14T06:05"), ("milker", "Mina")];
    farm.keep("milkings", &milking).await;
    let lot = [("code", "6134A-S"), ("filled", "2026-05-14T06:20"), ("vessel", "Can 1"), ("half_gallons", "6")];
    farm.keep("lots", &[&lot[..], &[("gallons", "0"), ("quarts", "0"), ("pints", "0")]].concat()).await;
    farm.keep("sources", &[("lot", "6134A-S"), ("milking", "2026-05-14 AM")]).await;
    let cookie = come_in(&farm, &make(&farm, &[("last_day", "2026-05-14")]).await).await;
    look(&farm, &cookie, "/pass/binder").await.says("6134A-S").says("This pass opens until the end of Thu 14 May 2026.");
    look(&farm, &cookie, "/pass/lots/6134A-S").await.came_with(200);
}

/// What ran out is missed on days that have come, and not on those a pass looks ahead to.
#[tokio::test]
async fn a_day_to_come_leaves_no_gap() {
    let mut farm = Farm::new().await;
    farm.clock("2026-05-14T20:00");
    let permit = [("sort", "permit"), ("what", "Farm-gate permit"), ("done", "2026-05-01"), ("until", "2026-05-14")];
    farm.keep("renewals", &permit).await;
    let old = [("sort", "permit"), ("what", "Cooling permit"), ("done", "2026-04-01"), ("until", "2026-05-12")];
    farm.keep("renewals", &old).await;
    let cookie = come_in(&farm, &make(&farm, &[("last_day", "2026-05-20")]).await).await;
    let page = look(&farm, &cookie, "/pass/binder").await;
    page.says("It ran out after Tue 12 May 2026, and no other is written by Thu 14 May 2026.")
        .never_says("It ran out after Thu 14 May 2026");
}

/// Source: RFC 5735, 3: what begins with 127 never leaves the machine.
#[tokio::test]
async fn an_address_of_this_machine_alone_is_pointed_out_and_not_refused() {
    let farm = Farm::new().await;
    let says = "This address opens only on this machine. Put the machine’s address in your network here, like http://192.0.2.10:7720/pass.";
    let usual = [("for_whom", "X"), ("from", "2026-05-01"), ("to", "2026-05-02"), ("last_day", "2026-05-20"), ("after", "0")];
    let send = async |address: &str, last: &str| {
        let fields = usual.map(|(name, value)| (name, if name == "last_day" { last } else { value }));
        farm.submit(Role::Owner, "/binder/pass", &[&fields[..], &[("address", address)]].concat()).await
    };
    send("http://localhost:7720/pass", "").await.came_with(422).says(says);
    send("http://192.0.2.7/pass", "").await.came_with(422).never_says(says).says("It stands on the card");
    send("http://127.0.0.1:7720/pass", "2026-05-20")
        .await
        .came_with(200)
        .says("<dt>Code</dt>")
        .says(says)
        .says("the end of Wed 20 May 2026");
}
