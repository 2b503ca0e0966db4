//! A small farm that uses every way there is to write down a cost, reckoned a second time by SQLite's own program.

use tallypail::{
    paper::folder::Files,
    store::costs,
    trade::{
        codes::LotCode,
        costs::Per,
        lines::View,
        measure::fixed,
        when::{Day, Zone},
    },
};

use crate::{
    cost_report::{exported, outside},
    costbooks::{day, folder_of, ledger_of, rows, span},
};

const LATER: &str = "2026-07-10T20:00:00Z";

/// Milk of two cows from March to June: A all the time, B from the tenth of April on. Six half-gallons of each milking are put into
/// jars, and five of them handed out.
fn milk() -> Vec<(&'static str, &'static str, Vec<String>)> {
    let (mut milkings, mut pails, mut lots, mut sources, mut pickups, mut asides) = (vec![], vec![], vec![], vec![], vec![], vec![]);
    for (nth, day) in day("2026-03-01").iter_days().take_while(|own: &Day| *own <= day("2026-06-30")).enumerate() {
        for (half, hour) in [("AM", "06"), ("PM", "18")] {
            if half == "PM" && nth % 9 == 4 {
                continue;
            }
            let session = format!("{day} {half}");
            milkings.push(format!("{session};{day}T{hour}:00:00Z;Mina"));
            pails.push(format!("{session};A;{0} lb;{0} lb;can;Can", 20 + nth % 5));
            if day >= crate::costbooks::day("2026-04-10") {
                pails.push(format!("{session};B;9.7 kg;9.7 kg;{}", if nth % 7 == 0 { "calf;" } else { "can;Can" }));
            }
            if half == "AM" {
                let code = LotCode::of_fill(day, 0).unwrap();
                let code = code.as_str();
                lots.push(format!("{code};{day}T07:00:00Z;Can;0;5;1;2"));
                sources.push(format!("{code};{session}"));
                pickups.push(format!("{day}T08:00:00Z;{code};0;4;1;0;seen;Can't tell;Made up.;None."));
                if nth % 10 == 3 {
                    asides.push(format!("{day}T09:00:00Z;{code};returned;0;1;0;0"));
                }
            }
        }
    }
    vec![
        ("milkings", "session;started;milker", milkings),
        ("pails", "milking;cow;read;milk;went;vessel", pails),
        ("lots", "code;filled;vessel;gallons;half_gallons;quarts;pints", lots),
        ("sources", "lot;milking", sources),
        ("pickups", "at;lot;gallons;half_gallons;quarts;pints;evidence;verdict;because;facts", pickups),
        ("asides", "at;lot;sort;gallons;half_gallons;quarts;pints", asides),
    ]
}

/// What is bought and kept: fed by the cow, by the bale, before its ticket, from a heap that ran short, with money back and counts.
fn kept() -> Vec<(&'static str, &'static str, Vec<String>)> {
    let stores = rows(
        "Hay;feed;2026-03-01;lb;bale = 42.5;as written;;100
         Grain;feed;2026-03-01;lb;bag = 50;as written;;90
         Straw;bedding;2026-03-01;piece;;as written;;75
         Minerals;feed;2026-03-01;lb;;every day;0.6;100
         Filters;supplies;2026-03-01;piece;;every milking;1;100
         Dip;supplies;2026-03-01;mL;;every cow milked;19.5;100
         Lids;jars and lids;2026-03-01;piece;;every jar filled;1;100
         Jars;jars and lids;2026-03-01;piece;;every jar filled;0.04;100",
    );
    let mut all = vec![("stores", "name;sort;since;counted_in;packs;used_by;used_amount;milk_share", stores)];
    all.push((
        "tickets",
        "paid;sort;what;amount;quantity;unit;store;cow;covers_from;covers_to;milk_share;guess",
        rows(
            "2026-03-01;feed;Hay;613.37;90;bales;Hay;;;;100;no
             2026-05-02;feed;Hay;401.99;1.5;ton;Hay;;;;100;no
             2026-05-09;feed;Hay sent back;-41.00;6;bale;Hay;;;;100;no
             2026-04-03;feed;Grain;131.75;6;bags;Grain;;;;100;no
             2026-06-20;feed;Grain;97.11;450;lbs;Grain;;;;100;yes
             2026-03-05;bedding;Straw;33.35;2.5;dozen;Straw;;;;100;no
             2026-03-01;feed;Minerals;38.00;50;lb;Minerals;;;;100;no
             2026-05-20;feed;Minerals, money back;-3.33;;;Minerals;;;;100;no
             2026-03-02;supplies;Filters;17.77;100;piece;Filters;;;;100;no
             2026-05-01;supplies;Filters;19.95;200;pieces;Filters;;;;100;no
             2026-03-02;supplies;Dip;41.90;2;gallons;Dip;;;;100;no
             2026-03-01;jars and lids;Lids;66.05;27;dozen;Lids;;;;100;no
             2026-04-28;jars and lids;Lids;120.00;600;piece;Lids;;;;100;no
             2026-03-01;jars and lids;Jars;325.00;100;each;Jars;;;;100;no
             2026-04-15;lab;Plate count;28.00;;;;;;;100;no
             2026-03-10;insurance;A year of it;480.00;;;;;2026-01-01;2026-12-31;80;no
             2026-04-20;power;Bill;61.20;;;;;2026-03-16;2026-04-15;60;no
             2026-04-11;vet;B calved;85.00;;;;B;;;100;no
             2026-04-18;calf sold;Bull calf;140.00;;;;B;;;100;no
             2026-03-03;calf kept;Heifer;300.00;;;;A;;;100;no
             2026-05-15;loan interest;Loan;14.40;;;;;;;100;no
             2026-05-15;loan principal;Loan;100.00;;;;;;;100;no",
        ),
    ));
    all.push((
        "feedings",
        "store;since;until;amount;unit;each;cow;guess",
        rows(
            "Hay;2026-03-01;;28;lb;a day;A;no
             Hay;2026-04-25;;0.5;bale;a day;A;yes
             Hay;2026-04-10;;1;bale;a day;B;no
             Grain;2026-03-15;2026-06-25;4.5;lb;a day;A;no
             Grain;2026-04-11;2026-06-11;301;lb;in all;B;no
             Straw;2026-03-05;2026-06-30;29;piece;in all;;no
             Hay;2026-06-14;;2;bales;in all;;no",
        ),
    ));
    all.push((
        "store_counts",
        "store;day;amount;unit",
        rows(
            "Hay;2026-04-30;11;bales
             Minerals;2026-06-01;2;lb
             Filters;2026-06-15;44;piece
             Grain;2026-06-30;0;lb
             Dip;2026-06-30;0;mL",
        ),
    ));
    all
}

/// Work, gear, current, and what is assumed.
fn rest() -> Vec<(&'static str, &'static str, Vec<String>)> {
    vec![
        (
            "gear",
            "name;sort;cow;bought;gone;price;salvage;life_years;milk_share;serves;left_by;brought",
            rows(
                "Machine;gear;;2024-02-29;;2400.00;400.00;10;100;milking;;
                 Old fridge;gear;;2018-05-17;;900.00;0.00;8;100;chilling;;
                 Fridge;gear;;2026-05-18;;1100.00;50.00;9;80;chilling;;
                 Rack;gear;;2025-01-10;2026-04-14;310.00;10.00;7;100;jars;sold;61.00
                 A;cow;A;2023-03-04;;2200.00;900.00;5;100;;;
                 B;cow;B;2025-03-04;2026-06-30;1800.00;800.00;6;100;;died;35.00",
            ),
        ),
        (
            "minutes",
            "day;job;person;minutes;wage;guess",
            rows(
                "2026-03-04;milking;Mina;95;;no
                 2026-04-30;milking;Mina;400;;no
                 2026-05-31;washing up;Del;61;;no
                 2026-03-09;milking;Joss;185;17.35;no
                 2026-06-07;records;Mina;50;;yes",
            ),
        ),
        (
            "usual_weeks",
            "since;until;job;person;minutes;wage",
            rows(
                "2026-03-03;;milking;Mina;613;
                 2026-03-20;2026-06-18;washing up;Del;199;
                 2026-05-01;;milking;Joss;77;17.35
                 2026-05-01;2026-05-03;milking;Joss;10;19.00",
            ),
        ),
        ("worths", "person;since;worth;note", rows("Del;2026-05-01;9.50;His other work\nDel;2026-06-15;11.25;A rise")),
        (
            "appliances",
            "name;since;until;sort;kilowatts;minutes;gallons;starts_at;ends_at;efficiency;times;kilowatt_hours",
            rows(
                "Pump;2026-03-01;;motor;0.56;80;;;;;;
                 Heater;2026-03-01;2026-05-20;heats water;;;9.5;55 °F;60 °C;92;;
                 Cooler;2026-03-01;;chills milk;;;;99 °F;38 °F;;2.5;
                 Freezer;2026-05-11;;so much a year;;;;;;;;402",
            ),
        ),
        ("meter_readings", "day;reading", rows("2026-05-25;10040.5\n2026-06-10;10121\n2026-07-03;10290.25")),
        (
            "assumptions",
            "name;since;figure;note",
            rows(
                "worth of an hour;2026-03-01;16;x
                 payroll burden %;2026-03-01;7.65;x
                 interest %;2026-03-01;6;x
                 interest %;2026-06-01;5.125;x
                 death loss %;2026-03-01;2;x
                 own land a month;2026-03-01;25.55;x
                 price of a kWh;2026-03-01;0.1735;x
                 a half-gallon brings;2026-03-01;7;x",
            ),
        ),
        (
            "transfers",
            "day;sort;from_account;to_account;amount",
            rows(
                "2026-04-20;milk at the gate;milk at the gate;cash tin;611.50
                 2026-05-12;milk at the gate;milk at the gate;cash tin;540.25
                 2026-05-20;owner contribution;owner;bank;1000.00
                 2026-06-12;milk at the gate;milk at the gate;cash tin;587.00",
            ),
        ),
    ]
}

fn farm() -> Files {
    let own = vec![
        ("farm", "name;since;zone;scale", rows("Tansyditch;2026-03-01;UTC;°F")),
        ("cows", "name;quarters;since", rows("A;4;2023-03-04\nB;4;2025-03-04")),
        ("vessels", "name;sort;since", rows("Can;can;2024-01-01")),
    ];
    folder_of(&[own, milk(), kept(), rest()].concat())
}

/// Source: SQLite 3's command-line program over the exported CSV files, by the rules written beside the reckoning in
/// `tests/outside/cost.sql`: to the cent and to the thousandth of a pound, over whole months, parts of them, single days, and days
/// before anything was written.
#[tokio::test]
async fn another_program_reckons_every_way_the_same() {
    let at = tempfile::tempdir().unwrap();
    let ledger = ledger_of(at.path(), &farm(), LATER).await;
    exported(&ledger, at.path()).await;
    let (mut used, mut usual, mut current) = (0, 0, 0);
    for (from, to) in [
        ("2026-03-01", "2026-06-30"),
        ("2026-03-01", "2026-03-31"),
        ("2026-04-07", "2026-05-17"),
        ("2026-05-01", "2026-05-31"),
        ("2026-06-01", "2026-06-30"),
        ("2026-06-12", "2026-07-10"),
        ("2026-06-20", "2026-06-20"),
        ("2026-02-10", "2026-03-03"),
        ("2025-07-11", "2026-07-10"),
    ] {
        let (theirs, asked) = (outside(at.path(), from, to, "2026-07-10"), span(from, to));
        let books = costs::books(&mut ledger.read().await.unwrap(), Zone::UTC, &[asked], &[asked], day("2026-07-10")).await.unwrap();
        for own in &books.stocks {
            let ours = format!("{} worth {}", own.stock.left.in_thousandths(), own.stock.value.in_cents());
            assert_eq!(theirs.get(&format!("store of {}", own.store.name)), Some(&ours), "{}, {from} to {to}", own.store.name);
        }
        let account = books.account(asked);
        for (view, name) in [(View::Cash, "cash"), (View::Wear, "wear"), (View::Hours, "hours")] {
            assert_eq!(account.total(view).unwrap().to_string(), theirs[name], "{name}, {from} to {to}: {theirs:#?}");
        }
        for (milk, name) in [(account.milk.produced, "produced"), (account.milk.fit, "fit"), (account.milk.reached, "reached")] {
            assert_eq!(fixed(milk, 1), theirs[name], "{name}, {from} to {to}");
        }
        if let Ok(each) = account.each(View::Hours, Per::Reached) {
            assert_eq!(fixed(each, 2), theirs["each"], "{from} to {to}");
        }
        if let Ok(hour) = account.return_an_hour() {
            assert_eq!(fixed(hour, 2), theirs["hour"], "{from} to {to}");
        }
        used += usize::from(theirs["stores"] != "0.00");
        usual += usize::from(theirs["usual minutes"] != "0");
        current += usize::from(theirs["power"] != "0.00");
    }
    assert!(used >= 7 && usual >= 7 && current >= 5, "stores in {used} spans, usual weeks in {usual}, current in {current}");
}
