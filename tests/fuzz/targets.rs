//! What is asked of every reader of what somebody typed, for any bytes at all.
//!
//! Not only that it does not break: what is read and shown can be read again and says the same, and what is refused is refused
//! with a short sentence. The same functions are tried by proptest with the other tests and by a coverage-guided fuzzer, see
//! docs/security.md.

use axum::{
    body::Body,
    http::{HeaderMap, HeaderValue, Request, header},
};
use std::{fmt::Display, str::FromStr, sync::OnceLock};
use tallypail::{
    paper::{
        folder::{self, Files},
        sample,
    },
    trade::{
        boarding::parse_month,
        book::Book,
        called::To,
        channels::Channel,
        codes::{LotCode, LotName},
        colonies, complaint, copies, entries, in_an_address,
        kinds::{KINDS, kind},
        lab::Figure,
        measure::{Scale, Temperature, Weight, figure_of, without_dress},
        milkings::{Dipstick, milk_of},
        misread,
        money::Money,
        months::Asked,
        needs::Needs,
        newcomer::{self, Answers},
        packs::Packs,
        parts::{Hundredths, Part},
        records::{Cell, Shape, Ways, read},
        strips::Score,
        what_if::Changes,
        when::{Moment, Zone, parse_day},
    },
    web::{address, answer::is_inside, form, smtp, visitor::cookie},
};

/// A function that is given any bytes.
pub type Target = fn(&[u8]);

/// Every reader, by the name the fuzzer calls it.
pub const TARGETS: [(&str, Target); 13] = [
    ("cells", cells),
    ("whole_forms", whole_forms),
    ("measures", measures),
    ("codes", codes),
    ("moments", moments),
    ("rule_sets", rule_sets),
    ("what_ifs", what_ifs),
    ("farm_folder", farm_folder),
    ("web_forms", web_forms),
    ("mail_server", mail_server),
    ("book_entries", book_entries),
    ("first_answers", first_answers),
    ("complaints", complaints),
];

/// The longest a refusal may be: what was typed is never said again whole.
const LONGEST_FAULT: usize = 900;

fn zones() -> [Zone; 3] {
    ["America/New_York", "Australia/Lord_Howe", "UTC"].map(|name| Zone::parse(name).unwrap_or(Zone::UTC))
}

fn text(data: &[u8]) -> String {
    String::from_utf8_lossy(data).into_owned()
}

fn is_a_sentence(says: &str, typed: &str) {
    assert!(says.len() < LONGEST_FAULT, "{} bytes are said of {} typed ones: {says}", says.len(), typed.len());
    assert!(
        says.contains(' ') && says.chars().last().is_some_and(|c| ".?)…”]".contains(c) || c.is_ascii_digit()),
        "“{says}” is no sentence; typed {typed:?}"
    );
    assert!(!says.chars().any(char::is_control), "control characters are said again: {says:?}");
}

/// What is read, shown and read again says the same, and what is refused is refused with a sentence.
fn again<T: Display, F: Display>(typed: &str, parse: impl Fn(&str) -> Result<T, F>) -> Option<(T, T)> {
    match parse(typed) {
        Ok(read) => {
            let shown = read.to_string();
            match parse(&shown) {
                Ok(second) => {
                    assert_eq!(second.to_string(), shown, "typed {typed:?}");
                    Some((read, second))
                }
                Err(fault) => panic!("{typed:?} is shown as {shown:?}, which is refused: {fault}"),
            }
        }
        Err(fault) => {
            is_a_sentence(&fault.to_string(), typed);
            None
        }
    }
}

/// As [`again`], of values that lose nothing when they are shown.
fn same<T: Display + PartialEq + std::fmt::Debug, F: Display>(typed: &str, parse: impl Fn(&str) -> Result<T, F>) {
    if let Some((read, second)) = again(typed, parse) {
        assert_eq!(read, second, "typed {typed:?}");
    }
}

fn shapes() -> &'static Vec<Shape> {
    static SHAPES: OnceLock<Vec<Shape>> = OnceLock::new();
    SHAPES.get_or_init(|| {
        let mut shapes: Vec<Shape> = Vec::new();
        for shape in KINDS.iter().flat_map(|kind| kind.columns).map(|column| column.shape) {
            if !shapes.contains(&shape) {
                shapes.push(shape);
            }
        }
        shapes
    })
}

/// Cells of every shape: typed, shown as the farm folder shows them, and read again.
pub fn cells(data: &[u8]) {
    let Some((&[which, way], rest)) = data.split_at_checked(2).and_then(|(head, rest)| Some((<&[u8; 2]>::try_from(head).ok()?, rest)))
    else {
        return;
    };
    let typed = text(rest);
    let shape = shapes()[usize::from(which) % shapes().len()];
    let scale = if way & 1 == 0 { Scale::Fahrenheit } else { Scale::Celsius };
    let ways = Ways { zone: zones()[usize::from(way >> 1) % 3], scale };
    match shape.read(&typed, ways) {
        Ok(cell) => {
            let shown = shape.show(&cell, ways.zone, |kind, number| format!("{kind} {number}"));
            let second = shape.read(&shown, ways);
            assert_eq!(second.as_ref().ok(), Some(&cell), "{shape:?}: {typed:?} is kept as {shown:?}: {:?}", second.as_ref().err());
        }
        Err(fault) => is_a_sentence(&fault.to_string(), &typed),
    }
}

/// A whole form of a kind: a name and a value to a line.
pub fn whole_forms(data: &[u8]) {
    let Some((which, rest)) = data.split_first() else { return };
    let kind = &KINDS[usize::from(*which) % KINDS.len()];
    let typed = text(rest);
    let values: Vec<&str> = typed.split('\u{1f}').collect();
    let said = |column: &str| {
        let place = kind.columns.iter().position(|own| own.name == column).unwrap_or(0);
        values.get(place).copied().unwrap_or_default().to_owned()
    };
    let ways = Ways { zone: zones()[0], scale: Scale::Fahrenheit };
    match read(kind, said, ways) {
        Ok(cells) => {
            assert_eq!(cells.len(), kind.columns.len());
            let missing = kind.columns.iter().zip(&cells).find(|(column, cell)| !column.may_be_empty && **cell == Cell::Empty);
            assert!(missing.is_none(), "{} came in without its {}", kind.name, missing.map_or("", |(column, _)| column.name));
        }
        Err(remarks) => {
            assert!(!remarks.is_empty());
            for remark in remarks {
                assert!(kind.columns.iter().any(|own| own.name == remark.field), "a remark on {}", remark.field);
                is_a_sentence(&remark.says, &said(&remark.field));
            }
        }
    }
}

/// Figures with units: what the scale, the thermometer, the till, the lab and the dipstick say.
pub fn measures(data: &[u8]) {
    let typed = text(data);
    same(&typed, Money::parse);
    same(&typed, Part::parse);
    same(&typed, Score::parse);
    same(&typed, |typed| Hundredths::parse(typed).ok_or("It is no amount of jars."));
    again(&typed, Weight::parse);
    again(&typed, Figure::parse);
    again(&typed, Packs::parse);
    again(&typed, colonies::Read::parse);
    let stick = again(&typed, Dipstick::parse);
    for scale in [Scale::Fahrenheit, Scale::Celsius] {
        if let Some((read, second)) = again(&typed, |typed| Temperature::parse(typed, scale)) {
            assert_eq!((read.exact(), read.scale()), (second.exact(), second.scale()), "{typed:?}");
        }
    }
    if let Err(fault) = milk_of(&typed, Weight::parse("3.2 lb").ok(), stick.map(|(read, _)| read).as_ref()) {
        is_a_sentence(&fault.to_string(), &typed);
    }
    if let Some(figure) = figure_of(&without_dress(&typed)) {
        assert_eq!(figure_of(&figure.to_string()).map(|own| own.normalize()), Some(figure.normalize()), "{typed:?}");
    }
}

/// Codes on lids, and the words of our own that stand in an address.
pub fn codes(data: &[u8]) {
    let typed = text(data);
    same(&typed, LotCode::parse);
    same(&typed, LotName::parse);
    for near in LotCode::one_slip_from_typed(&typed) {
        assert!(near.one_slip_from(&typed), "{near} is not one slip from {typed:?}");
        assert!(LotCode::parse(near.as_str()).is_ok());
    }
    if let Some(to) = To::parse(&typed) {
        assert_eq!(To::parse(&to.mark()), Some(to));
    }
}

/// Days, times and spans.
pub fn moments(data: &[u8]) {
    let typed = text(data);
    same(&typed, parse_day);
    same(&typed, Zone::parse);
    for zone in zones() {
        match zone.parse_moment(&typed) {
            Ok(moment) => {
                assert!(moment.can_be_right());
                assert_eq!(zone.parse_moment(&zone.for_file(moment)).ok(), Some(moment), "{typed:?} is filed as {}", zone.for_file(moment));
                // The hour that comes twice is read as its first.
                if let Ok(typed_again) = zone.parse_moment(&zone.for_field(moment)) {
                    assert!((moment.in_seconds() - typed_again.in_seconds()).abs() < 2 * 3600 + 60, "{typed:?}");
                }
                for said in [zone.shown(moment), zone.in_full(moment), zone.clock(moment), zone.milking_words(moment)] {
                    assert!(!said.is_empty());
                }
            }
            Err(fault) => is_a_sentence(&fault.to_string(), &typed),
        }
    }
    if let Some(month) = parse_month(&typed) {
        assert!((28..=31).contains(&month.days()), "{typed:?}");
    }
    if let Err(fault) = copies::Every::parse(&typed) {
        is_a_sentence(&fault.to_string(), &typed);
    }
    if let Ok(today) = parse_day("2026-11-21") {
        let (from, to) = typed.split_once(' ').unwrap_or((&typed, ""));
        match Asked::read(from, to, today, None) {
            Ok(asked) => assert!(asked.span.days() > 0 && asked.span.to <= today),
            Err(remarks) => remarks.iter().for_each(|remark| is_a_sentence(&remark.says, &typed)),
        }
    }
}

/// The lines of a rule set.
pub fn rule_sets(data: &[u8]) {
    let typed = text(data);
    same(&typed, misread::steps);
    same(&typed, misread::limits);
    same(&typed, misread::tests);
    same(&typed, misread::caps);
    same(&typed, misread::channels);
    same(&typed, Needs::parse);
}

/// What changes in a what-if.
pub fn what_ifs(data: &[u8]) {
    again(&text(data), Changes::parse);
}

/// What fields of a form say, one behind the other; what is not given is empty.
fn in_turn(typed: &str) -> impl Fn(usize) -> String {
    let values: Vec<String> = typed.split('\u{1f}').map(str::to_owned).collect();
    move |place| values.get(place).cloned().unwrap_or_default()
}

/// An entry in the books, of every sort, with a household and without.
pub fn book_entries(data: &[u8]) {
    let Some((&which, rest)) = data.split_first() else { return };
    let (sort, _) = entries::BY_HAND.into_iter().chain([entries::OPENING]).nth(usize::from(which >> 1) % 13).unwrap_or(entries::OPENING);
    let typed = text(rest);
    let said = in_turn(&typed);
    let (Ok(today), Ok(since)) = (parse_day("2026-11-21"), parse_day("2026-05-01")) else { return };
    let own = entries::Whose { number: 1, called: "M01 Ashgrove".to_owned(), since: Some(since), way: Channel::Herdshare };
    let whose = (which & 1 == 0).then_some(&own);
    let ways = Ways { zone: zones()[0], scale: Scale::Fahrenheit };
    let known = entries::Known { terms: &[], shares: &[], all: &[], today, ways };
    let fields = ["day", "amount", "jars", "way", "paid_by", "note"];
    let value = |name: &str| fields.iter().position(|own| *own == name).map(&said).unwrap_or_default();
    match entries::read(sort, &value, whose, known) {
        Ok(made) => {
            assert!(!made.is_empty() && made.len() <= 2);
            for own in made {
                assert!(own.day <= today, "{typed:?} is entered for {}", own.day);
                assert!(own.amount > Money::ZERO, "{typed:?} is an entry of {}", own.amount);
                assert!(own.sort.fits(own.from, own.to), "{own:?}");
            }
        }
        Err(remarks) => {
            assert!(!remarks.is_empty());
            remarks.iter().for_each(|remark| is_a_sentence(&remark.says, &typed));
        }
    }
}

/// What somebody new answers, all at once.
pub fn first_answers(data: &[u8]) {
    let typed = text(data);
    let said = in_turn(&typed);
    let place = |name: &str| newcomer::questions().position(|own| own.name == name);
    let ways = Ways { zone: zones()[0], scale: Scale::Fahrenheit };
    let Ok(today) = parse_day("2026-11-21") else { return };
    let answers = Answers::read(|name| place(name).map(&said).unwrap_or_default(), &newcomer::Known::default(), today, ways);
    assert!(!answers.written.is_empty() || !answers.remarks.is_empty());
    answers.remarks.iter().for_each(|remark| is_a_sentence(&remark.says, &typed));
    if answers.remarks.iter().any(|remark| remark.question.is_none()) {
        return;
    }
    // What comes of answers that are taken is a record that is taken.
    for own in answers.written {
        let Some(kind) = kind(own.kind) else { panic!("{} is no kind", own.kind) };
        let value = |column: &str| own.cells.iter().find(|(name, _)| *name == column).map_or("", |(_, cell)| cell).to_owned();
        if let Err(remarks) = read(kind, value, ways) {
            panic!("{typed:?} becomes {own:?}, of which {}: {}", remarks[0].field, remarks[0].says);
        }
    }
}

/// What a caller answers to the questions of a complaint.
pub fn complaints(data: &[u8]) {
    let Some((&which, rest)) = data.split_first() else { return };
    let question = complaint::QUESTIONS[usize::from(which) % complaint::QUESTIONS.len()];
    let typed = text(rest);
    let said = in_turn(&typed);
    let ways = Ways { zone: zones()[0], scale: Scale::Fahrenheit };
    let now = Moment::seconds(1_795_000_000);
    match complaint::read(&question, &said(0), &said(1), ways, now) {
        Ok(says) => {
            assert!(!says.trim().is_empty());
            assert!(!complaint::shown(&question, &says, ways.zone).is_empty());
            let (value, time) =
                says.split_once(' ').filter(|_| matches!(question.by, complaint::By::When | complaint::By::Fetched)).unwrap_or((&says, ""));
            assert_eq!(complaint::read(&question, value, time, ways, now).as_ref(), Ok(&says), "typed {typed:?}");
        }
        Err(remark) => is_a_sentence(&remark.says, &typed),
    }
}

/// A farm folder: the farm, its cows and its vessels, and what was given in one file more. A file that is not there has no rows, so
/// that a case reads and writes no more than it needs.
pub fn farm_folder(data: &[u8]) {
    static FIXED: OnceLock<(Files, Files)> = OnceLock::new();
    let (headings, farm) = FIXED.get_or_init(|| {
        let sample = sample::files();
        let of_the_farm = sample.into_iter().filter(|(name, _)| ["farm.csv", "cows.csv", "vessels.csv"].contains(&name.as_str()));
        (folder::write(&Book::default()), of_the_farm.collect())
    });
    let Some((which, rest)) = data.split_first() else { return };
    let mut files = farm.clone();
    let names: Vec<&String> = headings.keys().collect();
    let name = names[usize::from(*which) % names.len()].clone();
    // Behind the heading of its own a line is a line; without it the heading itself is tried.
    let heading = headings.get(&name).cloned().unwrap_or_default();
    let bytes = if rest.first().is_some_and(|byte| byte & 1 == 0) { [heading, rest[1..].to_vec()].concat() } else { rest.to_vec() };
    files.insert(name, bytes);
    let is_filled = |name: &str, bytes: &Vec<u8>| name == "farm.csv" || headings.get(name) != Some(bytes);
    let filled = |book: &Book| -> Files { folder::write(book).into_iter().filter(|(name, bytes)| is_filled(name, bytes)).collect() };
    match folder::read(&files, Moment::seconds(1_795_000_000), "import") {
        Ok(book) => {
            let written = filled(&book);
            let second = folder::read(&written, Moment::seconds(1_795_000_000), "import");
            assert_eq!(second.map(|book| filled(&book)), Ok(written));
        }
        Err(faults) => {
            assert!(!faults.is_empty());
            faults.iter().for_each(|fault| assert!(fault.says.len() < LONGEST_FAULT && !fault.says.is_empty(), "{fault}"));
        }
    }
}

/// A form as it is sent, a query, a cookie, and an address somebody wrote.
pub fn web_forms(data: &[u8]) {
    static RUNTIME: OnceLock<tokio::runtime::Runtime> = OnceLock::new();
    let runtime = RUNTIME.get_or_init(|| match tokio::runtime::Builder::new_current_thread().build() {
        Ok(runtime) => runtime,
        Err(error) => panic!("no runtime: {error}"),
    });
    let sent = Request::post("/").header(header::CONTENT_TYPE, "application/x-www-form-urlencoded").body(Body::from(data.to_vec()));
    if let Ok(request) = sent
        && let Ok(fields) = runtime.block_on(form::read(request))
    {
        let fields = fields.answered();
        assert!(!fields.entry().is_empty());
        for (name, value) in &fields.0 {
            assert!(fields.all(name).any(|own| own == value));
            let asked = address::asking("/x", &[(name.clone(), value.clone())]);
            assert!(is_inside(&asked) || asked.len() >= 400, "{asked}");
        }
    }
    let typed = text(data);
    if let Ok(line) = HeaderValue::from_bytes(data) {
        let headers = HeaderMap::from_iter([(header::COOKIE, line.clone()), (header::HOST, line)]);
        if let Some(value) = cookie(&headers, "tallypail_session") {
            assert!(typed.contains(&value) && !value.contains(';'));
        }
        if let Some(seen) = address::seen(&headers, false, "/own") {
            assert!(seen.chars().all(|c| c.is_ascii_alphanumeric() || "/:.-[]".contains(c)), "{seen}");
            assert!(address::typed(&seen).is_ok(), "{seen}");
        }
    }
    if let Some((read, second)) = again(&typed, address::typed) {
        assert_eq!(read, second);
    }
    let spelt = in_an_address(&typed);
    assert!(spelt.bytes().all(|byte| byte.is_ascii_alphanumeric() || b"-._~%".contains(&byte)));
    assert_eq!(percent_encoding::percent_decode_str(&spelt).decode_utf8_lossy(), typed);
    if is_inside(&typed) {
        let whole = url::Url::parse("https://farm.example/").ok().and_then(|base| base.join(&typed).ok());
        assert!(whole.is_none_or(|whole| whole.host_str() == Some("farm.example")), "{typed:?} leads away");
    }
}

/// The address of a mail server, with a password in it that nothing may say again.
pub fn mail_server(data: &[u8]) {
    let typed = text(data);
    let secret = "pa55w0rd-nobody-says";
    let with = [typed.clone(), format!("smtp://name:{secret}@{typed}"), typed.replace("PW", secret)];
    for typed in with {
        match smtp::Server::parse(&typed) {
            Ok(server) => {
                assert!(!server.host().is_empty());
                assert!(!format!("{server:?}").contains(secret) || server.host().contains(secret));
            }
            Err(fault) => {
                is_a_sentence(&fault.to_string(), &typed);
                assert!(!fault.to_string().contains(secret), "a password is said: {fault}");
            }
        }
    }
    if let Ok(own) = smtp::sender(&typed) {
        assert!(!own.chars().any(|c| c.is_control() || c == ' '), "{own:?}");
    }
    if let Ok(every) = copies::Every::parse(&typed) {
        assert!(!every.to_string().is_empty());
    }
    let Ok(hidden) = tallypail::settings::Hidden::from_str(&typed);
    assert_eq!(format!("{hidden:?}"), "hidden");
}
