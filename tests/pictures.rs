//! Pictures of figures: nothing on them overlaps, their lengths say what their figures say, and they print.
//!
//! A letter is taken to be six tenths of its size wide, as a wide face has it. All figures here are made up and worked by hand.

#![allow(clippy::unwrap_used, clippy::expect_used, reason = "a test may fail loudly")]

use std::fs;
use std::process::Command;

use askama::Template;
use rust_decimal::Decimal;
use tallypail::paper::{csv, json, pdf, text};
use tallypail::trade::drawn::{bars, bridge, stacked, tornado, two_lines, weeks};
use tallypail::trade::figures::{Holds, Part, Sheet, Table};
use tallypail::trade::money::Money;
use tallypail::trade::picture::{Anchor, Bar, Line, Mark, Picture, Shade, Stroke, Text, WIDE};

/// Pictures as a page draws them.
#[derive(Template)]
#[template(
    source = "{% import \"papers/parts.html\" as parts %}{% for picture in pictures %}{% call parts::picture(picture) %}{% endcall %}{% endfor %}",
    ext = "html"
)]
struct Drawn<'a> {
    pictures: &'a [Picture],
}

/// The pictures as a page shows them.
pub fn page(pictures: &[Picture]) -> String {
    Drawn { pictures }.render().unwrap()
}

/// Dollars from cents.
pub fn cents(cents: i64) -> Decimal {
    Decimal::new(cents, 2)
}

fn parts(parts: &[(&str, i64)]) -> Vec<(String, Money)> {
    parts.iter().map(|(name, part)| ((*name).to_owned(), Money::cents(*part))).collect()
}

fn rows(rows: &[(&str, i64)]) -> Vec<(String, Decimal)> {
    rows.iter().map(|(name, row)| ((*name).to_owned(), cents(*row))).collect()
}

/// One picture of every kind, of an invented farm.
pub fn every_kind() -> Vec<Picture> {
    let months = ["Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec"];
    let cost =
        [Some(1140), Some(1190), None, None, Some(960), Some(880), Some(845), Some(850), Some(872), Some(905), Some(950), Some(1010)];
    let comes_in =
        [Some(800), Some(800), None, Some(800), Some(900), Some(900), Some(910), Some(900), Some(900), Some(900), Some(925), None];
    let months: Vec<_> = months
        .iter()
        .zip(cost.iter().zip(comes_in))
        .map(|(month, (cost, comes_in))| ((*month).to_owned(), cost.map(cents), comes_in.map(cents)))
        .collect();
    let year: Vec<_> = (0..53_i64)
        .map(|week| {
            let made = if (9..17).contains(&week) { 0 } else { 9000 + (week * 37 % 11) * 300 - (week - 30).abs() * 60 };
            (
                format!("{} {}", 1 + week * 7 % 28, ["Jan", "Apr", "Jul", "Oct"][usize::try_from(week / 14).unwrap()]),
                cents(made),
                cents(made * 4 / 5 + (week % 5) * 400),
            )
        })
        .collect();
    let jobs = [
        ("Milking", 42000),
        ("Washing up", 21350),
        ("Hauling hay and water to the far pasture and back again before the frost", 9000),
        ("Bottling", 15500),
        ("Pickup days", 12000),
        ("Paper", 2500),
    ];
    let guesses = [
        ("What my hour is worth", 820, 1240),
        ("Hay, a ton", 905, 1015),
        ("Years a cow stays", 930, 1005),
        ("Share of the truck", 948, 962),
        ("Price of a calf", 961, 944),
    ];
    let guesses: Vec<_> = guesses.iter().map(|(name, low, high)| ((*name).to_owned(), cents(*low), cents(*high))).collect();
    let steps = [
        ("Hay and feed", 64),
        ("More milk to share the rest among", -112),
        ("Wages", 30),
        ("Veterinarian and medicine", 18),
        ("Jars and lids", -4),
    ];
    let costs = [
        ("Hay and feed", 412),
        ("Hours at what they are worth", 265),
        ("Jars, lids and labels", 58),
        ("Wear of gear and cows", 121),
        ("Veterinarian and medicine", 33),
        ("Power and water", 29),
        ("Truck", 24),
        ("Lab", 12),
        ("Calves sold", -64),
    ];
    vec![
        stacked("What a half-gallon is made of", &parts(&costs)).unwrap(),
        stacked("Where a dollar goes", &parts(&[("Feed", 45), ("Hours", 35), ("All else", 20)])).unwrap(),
        two_lines("What a half-gallon costs, and what comes in for it", &months).unwrap(),
        weeks("Half-gallons made and handed out by week", &year).unwrap(),
        weeks("Half-gallons made and handed out in four weeks", &year[30..34]).unwrap(),
        bars("Minutes by job, a week", "min", &rows(&jobs)).unwrap(),
        bars("What is left of each channel", "$", &rows(&[("Herd share", 125_050), ("At the farm", 40_000), ("Given away", -31_275)]))
            .unwrap(),
        tornado("What a half-gallon costs when one guess moves", cents(955), &guesses).unwrap(),
        bridge(
            "Why a half-gallon costs less than last year",
            &("Last year".to_owned(), cents(1010)),
            &rows(&steps),
            &("This year".to_owned(), cents(1006)),
        )
        .unwrap(),
        bridge(
            "From the first month to the second",
            &("First month".to_owned(), cents(200)),
            &rows(&[("Feed", 350), ("Calf", -120)]),
            &("Second month".to_owned(), cents(430)),
        )
        .unwrap(),
    ]
}

/// What a text covers: left, top, right, bottom.
fn covers(text: &Text) -> (i32, i32, i32, i32) {
    let size = text.letter.units();
    let wide = i32::try_from(text.says.chars().count()).unwrap() * size * 6 / 10;
    let left = match text.anchor {
        Anchor::Start => text.x,
        Anchor::Middle => text.x - wide / 2,
        Anchor::End => text.x - wide,
    };
    (left, text.y - size * 4 / 5, left + wide, text.y + size / 4)
}

fn meet(one: (i32, i32, i32, i32), other: (i32, i32, i32, i32)) -> bool {
    one.0 < other.2 && other.0 < one.2 && one.1 < other.3 && other.1 < one.3
}

fn texts(picture: &Picture) -> Vec<&Text> {
    picture.marks.iter().filter_map(|mark| if let Mark::Text(text) = mark { Some(text) } else { None }).collect()
}

/// The bars on a picture.
pub fn bars_of(picture: &Picture) -> Vec<Bar> {
    picture.marks.iter().filter_map(|mark| if let Mark::Bar(bar) = mark { Some(*bar) } else { None }).collect()
}

/// The lines of one stroke on a picture.
pub fn lines_of(picture: &Picture, stroke: Stroke) -> Vec<&Line> {
    let lines = picture.marks.iter().filter_map(|mark| if let Mark::Line(line) = mark { Some(line) } else { None });
    lines.filter(|line| line.stroke == stroke).collect()
}

/// Whether a text on the picture says just this.
pub fn says(picture: &Picture, what: &str) -> bool {
    texts(picture).iter().any(|text| text.says == what)
}

/// Points along a line, a unit or less apart.
fn along(line: &Line) -> Vec<(i32, i32)> {
    let mut found = Vec::new();
    for ends in line.points.windows(2) {
        let (across, down) = (ends[1].0 - ends[0].0, ends[1].1 - ends[0].1);
        let steps = across.abs().max(down.abs()).max(1);
        found.extend((0..=steps).map(|step| (ends[0].0 + across * step / steps, ends[0].1 + down * step / steps)));
    }
    found
}

/// Everything that would make a picture hard to read, in words.
fn faults(picture: &Picture) -> Vec<String> {
    let mut found = Vec::new();
    let texts = texts(picture);
    let (wide, tall) = (picture.wide, picture.tall);
    for (place, text) in texts.iter().enumerate() {
        let own = covers(text);
        if own.0 < 0 || own.1 < 0 || own.2 > wide || own.3 > tall {
            found.push(format!("{:?} lies outside: {own:?} of {wide} by {tall}", text.says));
        }
        if text.letter.units() < 14 {
            found.push(format!("{:?} is too small", text.says));
        }
        for other in &texts[place + 1..] {
            if meet(own, covers(other)) {
                found.push(format!("{:?} {own:?} lies on {:?} {:?}", text.says, other.says, covers(other)));
            }
        }
        for bar in bars_of(picture) {
            if meet(own, (bar.x, bar.y, bar.x + bar.wide, bar.y + bar.tall)) {
                found.push(format!("{:?} {own:?} lies on {bar:?}", text.says));
            }
        }
        for line in picture.marks.iter().filter_map(|mark| if let Mark::Line(line) = mark { Some(line) } else { None }) {
            if along(line).iter().any(|(x, y)| own.0 < *x && *x < own.2 && own.1 < *y && *y < own.3) {
                found.push(format!("{:?} {own:?} is crossed by {line:?}", text.says));
            }
        }
    }
    for bar in bars_of(picture) {
        if bar.x < 0 || bar.y < 0 || bar.x + bar.wide > wide || bar.y + bar.tall > tall {
            found.push(format!("{bar:?} lies outside {wide} by {tall}"));
        }
    }
    let points = picture.marks.iter().filter_map(|mark| if let Mark::Line(line) = mark { Some(&line.points) } else { None }).flatten();
    found.extend(
        points
            .filter(|(x, y)| *x < 0 || *y < 0 || *x > wide || *y > tall)
            .map(|point| format!("the point {point:?} lies outside {wide} by {tall}")),
    );
    found
}

/// Fails with everything that makes a picture hard to read.
#[track_caller]
pub fn readable(picture: &Picture) {
    let found = faults(picture);
    assert!(found.is_empty(), "{}:\n{}", picture.caption, found.join("\n"));
    assert_eq!(picture.wide, WIDE);
    assert!(picture.alt.starts_with(&picture.caption) && picture.alt.chars().any(|c| c.is_ascii_digit()), "{}", picture.alt);
}

#[test]
fn one_of_every_kind_can_be_read() {
    for picture in every_kind() {
        readable(&picture);
    }
}

#[test]
fn the_reading_of_pictures_finds_what_is_planted() {
    let mut picture = every_kind().remove(0);
    let sound = picture.clone();
    picture.small((4, 4), Anchor::Start, "outside");
    picture.small((130, 19), Anchor::Start, "on another");
    picture.small((30, 60), Anchor::Start, "on a bar");
    picture.line(Stroke::Hair, vec![(120, 19), (384, 14)]);
    assert!(faults(&sound).is_empty() && faults(&picture).len() >= 4, "{:?}", faults(&picture));
}

/// The greys in print, and that the page prints the same. Source: this project's own rule that a picture is told apart in black
/// and white; a step of 25 in 255 is a tenth.
#[test]
fn the_six_shades_differ_in_black_and_white() {
    let mut greys: Vec<u8> = Shade::ALL.map(Shade::grey).to_vec();
    assert!(greys.windows(2).all(|pair| pair[0].abs_diff(pair[1]) >= 25), "neighbours in a stack: {greys:?}");
    greys.sort_unstable();
    assert!(greys.windows(2).all(|pair| pair[1] - pair[0] >= 25), "any two: {greys:?}");
    let look = fs::read_to_string(concat!(env!("CARGO_MANIFEST_DIR"), "/server/web/look.css")).unwrap();
    let (_, print) = look.split_once("@media print").unwrap();
    assert!(print.contains("--rim: #000"), "the first shade prints black");
    for shade in Shade::ALL.into_iter().skip(1) {
        let digit = format!("{:x}", shade.grey() / 17);
        let rule = format!(".{} {{ fill: #{} }}", shade.mark(), digit.repeat(3));
        assert!(print.replace("; }", " }").contains(&rule), "{rule}");
    }
}

/// Worked by hand: 4.12 + 2.65 + 1.21 + 0.58 + 0.33 stay; 0.29 + 0.24 + 0.12 = 0.65 are the rest; 9.54 − 0.64 = 8.90.
#[test]
fn beyond_six_parts_the_smallest_are_the_rest() {
    let picture = every_kind().remove(0);
    for what in ["The rest", "$0.65", "$4.12", "Calves sold", "−$0.64", "taken off", "In all", "$8.90"] {
        assert!(says(&picture, what), "{what} is missing");
    }
    assert!(!says(&picture, "Truck") && !says(&picture, "$0.24"));
    assert_eq!(bars_of(&picture).len(), 7);
    assert!(picture.alt.contains("$8.90 in all") && picture.alt.contains("Taken off: Calves sold −$0.64"), "{}", picture.alt);
}

#[test]
fn credits_stand_on_the_other_side_of_nought() {
    let picture = stacked("Two and one", &parts(&[("Feed", 300), ("Calf", -100)])).unwrap();
    let bars = bars_of(&picture);
    let nought = lines_of(&picture, Stroke::Heavy)[0].points[0].1;
    assert_eq!(bars[0].y + bars[0].tall, nought);
    assert_eq!(bars[1].y, nought);
    assert_ne!(bars[0].shade, bars[1].shade);
    assert!((bars[0].tall - bars[1].tall * 3).abs() <= 3, "a third as tall: {bars:?}");
    let only = stacked("Only a credit", &parts(&[("Calf", -100)])).unwrap();
    readable(&only);
    assert!(says(&only, "−$1.00"));
}

#[test]
fn nothing_to_draw_is_no_picture() {
    assert_eq!(stacked("None", &[]), None);
    assert_eq!(stacked("None", &parts(&[("Feed", 0)])), None);
    assert_eq!(two_lines("None", &[("Jan".to_owned(), None, None)]), None);
    assert_eq!(weeks("None", &[("1 Jan".to_owned(), Decimal::ZERO, Decimal::ZERO)]), None);
    assert_eq!(bars("None", "min", &rows(&[("Milking", 0)])), None);
    assert_eq!(tornado("None", cents(100), &[]), None);
    assert_eq!(bridge("None", &("a".to_owned(), Decimal::ZERO), &[], &("b".to_owned(), Decimal::ZERO)), None);
}

#[test]
fn a_month_without_a_figure_is_a_gap() {
    let point = |cost: Option<i64>, comes_in: Option<i64>| ("Jan".to_owned(), cost.map(cents), comes_in.map(cents));
    let whole = two_lines("Whole", &[point(Some(900), Some(800)), point(Some(900), Some(800)), point(Some(900), Some(800))]).unwrap();
    assert_eq!((lines_of(&whole, Stroke::Heavy).len(), lines_of(&whole, Stroke::Dashed).len()), (1, 1));
    let gap =
        two_lines("Gap", &[point(Some(900), Some(800)), point(None, Some(800)), point(Some(900), None), point(Some(910), None)]).unwrap();
    let heavy = lines_of(&gap, Stroke::Heavy);
    assert_eq!((heavy.len(), lines_of(&gap, Stroke::Dashed).len()), (2, 1));
    assert!(heavy[0].points.last().unwrap().0 < heavy[1].points[0].0, "nothing is drawn across the gap");
    assert!(says(&gap, "$9.10") && says(&gap, "$8.00") && says(&gap, "Cost") && says(&gap, "Comes in"));
    let one_sided = two_lines("One line", &[point(Some(900), None), point(Some(950), None)]).unwrap();
    assert!(lines_of(&one_sided, Stroke::Dashed).is_empty() && !says(&one_sided, "Comes in"));
}

/// Worked by hand: the highest figure is $11.90, so marks stand every $5.00 from nought to $15.00.
#[test]
fn marks_are_round_and_begin_at_nought() {
    let picture = &every_kind()[2];
    for what in ["$0.00", "$5.00", "$10.00", "$15.00"] {
        assert!(says(picture, what), "{what}");
    }
    assert!(!says(picture, "$20.00"));
    let cheap = two_lines("Cents", &[("Jan".to_owned(), Some(cents(7)), None), ("Feb".to_owned(), Some(cents(3)), None)]).unwrap();
    for what in ["$0.00", "$0.02", "$0.04", "$0.06", "$0.08"] {
        assert!(says(&cheap, what), "{what}");
    }
}

#[test]
fn a_year_of_weeks_has_a_bar_for_each_week_that_made_milk() {
    let picture = &every_kind()[3];
    // 53 weeks, eight of them dry, and the key.
    assert_eq!(bars_of(picture).len(), 53 - 8 + 1);
    assert!(bars_of(picture).iter().all(|bar| bar.wide >= 5));
    let long: Vec<_> = (0..80).map(|week| (format!("w{week}"), Decimal::ONE, Decimal::ONE)).collect();
    let picture = weeks("Eighty weeks", &long).unwrap();
    assert_eq!(bars_of(&picture).len(), 53 + 1);
    assert!(picture.alt.contains("53 weeks, w27 to w79"), "{}", picture.alt);
}

/// Worked by hand: 10.10 + 0.64 − 1.12 + 0.30 + 0.18 − 0.04 = 10.06.
#[test]
fn a_bridge_lands_on_what_it_is_now() {
    let picture = &every_kind()[8];
    let bars = bars_of(picture);
    let (last_step, now) = (bars[bars.len() - 2], bars[bars.len() - 1]);
    assert_eq!(bars.len(), 7);
    assert_eq!(last_step.x, now.x + now.wide, "the last step goes down to where the last bar ends");
    for what in ["+$0.64", "−$1.12", "$10.10", "$10.06", "The bars begin at $9.00, not at $0.00."] {
        assert!(says(picture, what), "{what} is missing");
    }
    let short = bridge("Short", &("Then".to_owned(), cents(500)), &rows(&[("Feed", 100)]), &("Now".to_owned(), cents(580))).unwrap();
    assert!(says(&short, "−$0.20") && short.alt.contains("What is not explained −$0.20"), "{}", short.alt);
}

#[test]
fn both_ends_of_a_guess_are_printed_and_the_widest_comes_first() {
    let picture = &every_kind()[7];
    for what in ["As it is $9.55", "$8.20", "$12.40", "$9.44", "$9.61"] {
        assert!(says(picture, what), "{what} is missing");
    }
    let names: Vec<&str> = texts(picture).iter().filter(|text| !text.bold).map(|text| text.says.as_str()).collect();
    assert_eq!(names, ["What my hour is worth", "Hay, a ton", "Years a cow stays", "Price of a calf", "Share of the truck"]);
}

/// A sheet that holds every kind of picture, each with its table beside it.
pub fn sheet() -> Sheet {
    let mut table = Table::new("figures", "The figures of the picture", &[("What", Holds::Words, 3), ("Dollars", Holds::Figures, 1)]);
    table.row(["Hay and feed".into(), "4.12".into()]);
    let drawn = every_kind().into_iter().flat_map(|picture| [Part::Heading(picture.caption.clone()), Part::Picture(picture)]);
    let parts = drawn.chain([Part::Table(table)]).collect();
    Sheet { name: "pictures".into(), title: "Pictures".into(), under: "Made up".into(), parts, ..Sheet::default() }
}

#[test]
fn a_sheet_with_pictures_prints_in_every_form() {
    let sheet = sheet();
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("paper.pdf");
    fs::write(&path, pdf::print(&sheet, "today").unwrap()).unwrap();
    let read = Command::new("pdftotext").arg("-layout").arg(&path).arg("-").output().expect("pdftotext must be installed");
    let tight = |text: &str| text.split_whitespace().collect::<String>();
    let pages: Vec<String> = String::from_utf8(read.stdout).unwrap().split('\u{c}').map(tight).collect();
    for picture in every_kind() {
        let whole = |page: &&String| {
            page.contains(&tight(&picture.caption)) && texts(&picture).iter().all(|text| page.contains(&tight(&text.says)))
        };
        assert!(pages.iter().any(|page| whole(&page)), "{} is not whole on one leaf", picture.caption);
    }
    let (csv, json) = (String::from_utf8(csv::print(&sheet)).unwrap(), String::from_utf8(json::print(&sheet)).unwrap());
    for printed in [&csv, &json] {
        assert!(printed.contains("4.12") && !printed.contains("In all"), "the table is there and the picture is passed over: {printed}");
    }
    assert!(text::print(&sheet).contains("Taken off: Calves sold −$0.64"));
}

#[test]
fn a_page_draws_every_mark_and_says_what_it_shows() {
    let pictures = every_kind();
    let page = page(&pictures);
    let marks = |of: fn(&Mark) -> bool| pictures.iter().flat_map(|picture| &picture.marks).filter(|mark| of(mark)).count();
    assert_eq!(page.matches("<rect class=\"part-").count(), marks(|mark| matches!(mark, Mark::Bar(_))));
    assert_eq!(page.matches("<polyline class=\"").count(), marks(|mark| matches!(mark, Mark::Line(_))));
    assert_eq!(page.matches("<text ").count(), marks(|mark| matches!(mark, Mark::Text(_))));
    assert_eq!(page.matches("<figure class=\"chart drawn\"><figcaption>").count(), pictures.len());
    assert!(page.contains("role=\"img\" aria-label=\"What a half-gallon is made of: $8.90 in all"));
    assert!(!page.contains("style="), "a page carries no inline style");
    let sly = bars("<b>", "min", &rows(&[("<script>", 100)])).unwrap();
    assert!(!self::page(&[sly]).contains("<script>"), "what was typed is never markup");
}
