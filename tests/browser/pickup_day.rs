//! A whole pickup day on a phone: pack, hand out to twenty-seven families with three exceptions, count.
//!
//! Every tap and every typed figure is counted and said at the end: at a second and a half each, the day's work is what a
//! person does in less than two minutes. And the same day run from two phones at once, which loses and doubles nothing.

use super::hands::{Browser, driver, served_from};
use crate::farm::{SAMPLE_AFTERNOON, at, kind_of};
use fantoccini::Locator;
use tallypail::{paper::sample, store::records, trade::records::Record};

/// The sample farm with every member's day moved to the Saturday it is looked at, and milk enough for most of them.
fn everybody_on_saturday() -> tallypail::paper::folder::Files {
    let mut files = sample::files();
    let people = files.get_mut("people.csv").unwrap();
    let text = String::from_utf8(people.clone()).unwrap();
    *people = text.replace(",Tuesday,", ",Saturday,").replace(",Thursday,", ",Saturday,").into_bytes();
    let lots = String::from_utf8(files["lots.csv"].clone()).unwrap();
    let more: Vec<String> =
        lots.lines().map(|line| if line.contains(",6325A-Z,") { line.replacen(",0,8,", ",0,40,", 1) } else { line.to_owned() }).collect();
    files.insert("lots.csv".to_owned(), (more.join("\n") + "\n").into_bytes());
    files
}

async fn all(farm: &super::hands::Served, name: &str) -> Vec<Record> {
    records::list(&mut farm.ledger.read().await.unwrap(), kind_of(name)).await.unwrap()
}

/// Says that everybody signed the clipboard.
async fn signed(phone: &Browser) {
    let css = "form[action='/pickup/everybody'] input[name='evidence'][value='signed']";
    phone.client.execute("document.querySelector(arguments[0]).closest('label').click()", vec![serde_json::json!(css)]).await.unwrap();
}

#[tokio::test(flavor = "multi_thread")]
async fn a_pickup_day_with_three_exceptions_is_done_on_a_phone() {
    let farm = served_from(&everybody_on_saturday(), at(SAMPLE_AFTERNOON)).await;
    let before = all(&farm, "pickups").await.len();
    let (crates_before, portions_before) = (all(&farm, "crates").await.len(), all(&farm, "portions").await.len());
    let (_driver, address) = driver().await;
    let phone = Browser::open(&address, &farm.address, 390, 844).await;
    phone.sign_in().await;
    let mut taps = 0;

    phone.press("nav.places a[href='/pickup']").await;
    phone.press("a.act[href='/pickup/pack']").await;
    phone.look("pack").await;
    phone.press("form[action='/pickup/pack'] button.act").await;
    taps += 3;
    phone.look("packed").await;
    let crates = all(&farm, "crates").await.split_off(crates_before);
    let portions = all(&farm, "portions").await.split_off(portions_before);
    assert_eq!(portions.len(), 27, "every member but the one whose paper is not signed");

    assert_eq!(phone.client.find_all(Locator::Css("li.crate")).await.unwrap().len(), 27);
    let rows = phone.client.find_all(Locator::Css("li.crate")).await.unwrap().len();
    let labels: Vec<String> = ["M03", "M14", "M20"].map(str::to_owned).to_vec();
    for (label, differs) in labels.iter().zip(["1 fewer", "no empties", "not here"]) {
        phone.tap(&format!("took.{label}"), differs).await;
        taps += 1;
    }
    signed(&phone).await;
    phone.look("hand-out-by-exception").await;
    phone.press("form[action='/pickup/everybody'] button.act").await;
    taps += 2;
    phone.says("M20").await;
    phone.look("handed-out-list").await;
    let out = all(&farm, "pickups").await.split_off(before);
    let kind = kind_of("pickups");
    assert!(out.iter().all(|own| own.cell(kind, "evidence").text() == "signed" && own.cell(kind, "lot").whole().is_some()));
    let mut takers: Vec<i64> = out.iter().filter_map(|own| own.cell(kind, "person").whole()).collect();
    takers.sort_unstable();
    takers.dedup();
    assert_eq!(takers.len(), rows - 1, "everybody on the list but the one who was not here");
    let halves =
        |records: &[Record], name: &str| records.iter().filter_map(|own| own.cell(kind_of(name), "half_gallons").whole()).sum::<i64>();
    let not_here: i64 = crates
        .iter()
        .filter(|own| own.cell(kind_of("crates"), "person").whole() == Some(20))
        .filter_map(|own| own.cell(kind_of("crates"), "half_gallons").whole())
        .sum();
    assert_eq!(halves(&out, "pickups"), halves(&crates, "crates") - not_here - 1);

    phone.go("/counts/new").await;
    taps += 2;
    let fields = phone.client.find_all(Locator::Css("form[action='/counts'] .stepper input")).await.unwrap();
    for field in fields {
        field.send_keys("0").await.unwrap();
        taps += 2;
    }
    phone.press("form[action='/counts'] button.act").await;
    taps += 1;
    phone.says("The count, compared").await;
    phone.says("short").await;
    phone.look("count-with-window").await;
    phone.client.clone().close().await.unwrap();
    println!("{rows} crates packed, handed out with three exceptions and counted in {taps} taps and figures");
}

/// Both phones have the same page open and press at the same moment, twice: to pack, and to hand out.
#[tokio::test(flavor = "multi_thread")]
async fn two_phones_run_the_same_day_and_lose_and_double_nothing() {
    let farm = served_from(&everybody_on_saturday(), at(SAMPLE_AFTERNOON)).await;
    let [packings, crates, portions, pickups] =
        [all(&farm, "packings").await, all(&farm, "crates").await, all(&farm, "portions").await, all(&farm, "pickups").await]
            .map(|own| own.len());
    let (_driver, address) = driver().await;
    let one = Browser::open(&address, &farm.address, 390, 844).await;
    let other = Browser::open(&address, &farm.address, 390, 844).await;
    for phone in [&one, &other] {
        phone.sign_in().await;
        phone.go("/pickup/pack").await;
    }
    let pack = "form[action='/pickup/pack'] button.act";
    tokio::join!(one.press(pack), other.press(pack));
    let told = [one.text().await, other.text().await];
    assert_eq!(told.iter().filter(|text| text.contains("nothing was packed twice")).count(), 1, "{told:#?}");
    assert_eq!((all(&farm, "packings").await.len() - packings, all(&farm, "portions").await.len() - portions), (1, 27));
    let crates = all(&farm, "crates").await.split_off(crates);
    let (kind, out) = (kind_of("crates"), kind_of("pickups"));
    let mut packed: Vec<[Option<i64>; 3]> =
        crates.iter().map(|own| ["person", "lot", "half_gallons"].map(|column| own.cell(kind, column).whole())).collect();
    packed.sort_unstable();

    for phone in [&one, &other] {
        phone.go("/pickup").await;
    }
    // Each leaves out whom the other hands theirs.
    one.tap("took.M03", "not here").await;
    other.tap("took.M04", "not here").await;
    signed(&one).await;
    signed(&other).await;
    let everybody = "form[action='/pickup/everybody'] button.act";
    tokio::join!(one.press(everybody), other.press(everybody));
    let told = [one.text().await, other.text().await];
    assert_eq!(told.iter().filter(|text| text.contains("Kept on another phone already")).count(), 1, "{told:#?}");
    let mut taken: Vec<[Option<i64>; 3]> = all(&farm, "pickups")
        .await
        .split_off(pickups)
        .iter()
        .map(|own| ["person", "lot", "half_gallons"].map(|column| own.cell(out, column).whole()))
        .collect();
    taken.sort_unstable();
    assert_eq!(taken, packed, "every jar that was packed went out once");
    for phone in [one, other] {
        phone.client.close().await.unwrap();
    }
}
