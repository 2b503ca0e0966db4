//! The page of what-ifs, through the front door of the sample farm: it works out, keeps once, and is the owner's alone.

#![allow(clippy::unwrap_used, clippy::expect_used, reason = "a test may fail loudly")]

use crate::farm::{Farm, escaped, kind_of};
use tallypail::{
    trade::in_an_address,
    web::{secret, visitor::Role},
};

/// Through the door: the page answers, keeps once however often its button is pressed, and is the owner's alone.
#[tokio::test]
async fn the_page_works_it_out_and_keeps_it_once() {
    let farm = Farm::sample().await;
    let typed = "price of feed +20 %; hand out +1 a week";
    let page = format!("/costs/what-if?changes={}", escaped(typed));
    farm.visit(Role::Owner, "/costs/what-if")
        .await
        .came_with(200)
        .says("As it is")
        .says("What moves it most")
        .never_says("Keep this what-if");
    let shown = farm.visit(Role::Owner, &page).await;
    shown.came_with(200).says("Which parts changed").says("Keep this what-if");
    let entry = secret::entry();
    let form = [("changes", typed), ("name", "Dear & more"), ("entry", entry.as_str())];
    for _ in 0..2 {
        let sent = farm.submit(Role::Owner, "/costs/what-if", &form).await;
        assert_eq!(sent.came_with(303).location, format!("/costs/what-if?changes={}", in_an_address(typed)));
    }
    assert_eq!(farm.list("what_ifs").await.iter().filter(|own| own.entry == entry).count(), 1);
    farm.visit(Role::Owner, "/costs/what-if").await.says("Dear &#38; more: price of feed +20 %");
    let again = farm.submit(Role::Owner, "/costs/what-if", &[("changes", typed), ("name", "Dear & more")]).await;
    again.came_with(422).says("give this one another name").says("value=\"Dear &#38; more\"");
    for (path, kind) in
        [("/costs/what-if.csv", "text/csv"), ("/costs/what-if.json", "application/json"), ("/costs/what-if.pdf", "application/pdf")]
    {
        let paper = farm.visit(Role::Owner, &page.replace("/costs/what-if", path)).await;
        assert!(paper.came_with(200).kind.starts_with(kind), "{path}");
    }
    for path in ["/costs/what-if", "/costs/what-if.csv", "/costs/cover", "/costs/cover.pdf"] {
        farm.visit(Role::Owner, path).await.came_with(200);
        farm.visit(Role::Helper, path).await.came_with(403);
    }
    farm.submit(Role::Helper, "/costs/what-if", &form).await.came_with(403);
}

#[tokio::test]
async fn typed_nonsense_stays_and_is_answered() {
    let farm = Farm::sample().await;
    let wrong = farm.visit(Role::Owner, "/costs/what-if?feed=lots&hour=18&changes=Damzon+dry+from+2026-09-01").await;
    wrong.came_with(422).says("“lots” is not a percentage").says("value=\"lots\"").says("value=\"18\"").says("Did you mean Damson?");
    wrong.says("Damzon dry from 2026-09-01").never_says("Keep this what-if");
    let nothing = farm.submit(Role::Owner, "/costs/what-if", &[("changes", "🐄"), ("name", "Cow")]).await;
    nothing.came_with(422).says("is no change").says("🐄");
    assert!(
        farm.list("what_ifs").await.is_empty()
            || !farm.list("what_ifs").await.iter().any(|own| own.cell(crate::farm::kind_of("what_ifs"), "name").text() == "Cow")
    );
}
