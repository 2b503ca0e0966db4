//! What every chapter of the sample farm writes with: a pen that fills in records, dice that fall the same way every
//! time, and the farm's clock.

use rust_decimal::Decimal;
use tallypail::trade::{
    book::Book,
    jars::Jars,
    kinds::kind,
    measure::{Scale, Weight},
    records::{Cell, Record, Shape, Ways},
    when::{Day, Moment, Zone},
};

/// The cells of a line, each as a person would type it.
macro_rules! row {
    ($($cell:expr),* $(,)?) => { &[$($cell.to_string()),*] };
}
pub(crate) use row;

/// Dice seeded by a word and a day, so that a change in one chapter leaves the others as they were. `SplitMix64`, from
/// Steele, Lea and Flood, “Fast splittable pseudorandom number generators” (2014), from memory.
pub struct Dice(u64);

impl Dice {
    /// The dice for a subject on a day.
    pub fn of(subject: &str, day: Day) -> Dice {
        Dice::of_words(&format!("{subject} {day}"))
    }

    /// The dice for some words.
    pub fn of_words(words: &str) -> Dice {
        Dice(words.bytes().fold(0xcbf2_9ce4_8422_2325, |seed, byte| (seed ^ u64::from(byte)).wrapping_mul(0x0000_0100_0000_01b3)))
    }

    /// The next 64 bits.
    pub fn roll(&mut self) -> u64 {
        self.0 = self.0.wrapping_add(0x9e37_79b9_7f4a_7c15);
        let mixed = (self.0 ^ (self.0 >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        let mixed = (mixed ^ (mixed >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
        mixed ^ (mixed >> 31)
    }

    /// A whole number from the first to the last, both included.
    pub fn between(&mut self, first: i64, last: i64) -> i64 {
        let width = u64::try_from(last - first + 1).unwrap();
        first + i64::try_from(self.roll() % width).unwrap()
    }

    /// Whether something happens that happens so many times in a hundred.
    pub fn percent(&mut self, times: i64) -> bool {
        self.between(1, 100) <= times
    }

    /// One of a few things.
    pub fn one<'a, T>(&mut self, of: &'a [T]) -> &'a T {
        &of[usize::try_from(self.between(0, i64::try_from(of.len() - 1).unwrap())).unwrap()]
    }
}

/// Who wrote a record, when, and from what.
#[derive(Clone)]
pub struct Sign {
    /// When it was written down.
    pub written: Moment,
    /// By whom.
    pub who: String,
    /// From what.
    pub source: String,
}

impl Sign {
    /// Written on the farm's own screen.
    pub fn screen(written: Moment, who: &str) -> Sign {
        Sign { written, who: who.to_owned(), source: "screen".to_owned() }
    }

    /// Written from paper or a file.
    pub fn from(written: Moment, who: &str, source: impl Into<String>) -> Sign {
        Sign { written, who: who.to_owned(), source: source.into() }
    }
}

/// Fills in records and gives them their numbers.
pub struct Pen {
    /// All that is written so far.
    pub book: Book,
    /// The farm's clock.
    pub zone: Zone,
}

impl Pen {
    /// A pen over an empty book.
    pub fn new() -> Pen {
        Pen { book: Book::default(), zone: Zone::parse("America/New_York").unwrap() }
    }

    /// Writes a record from typed cells; a cell that names another record holds its number.
    pub fn write(&mut self, name: &str, typed: &[String], sign: Sign) -> i64 {
        let kind = kind(name).unwrap();
        assert_eq!(kind.columns.len(), typed.len(), "{name}: {typed:?}");
        let ways = Ways { zone: self.zone, scale: Scale::Fahrenheit };
        let cells = kind
            .columns
            .iter()
            .zip(typed)
            .map(|(column, text)| match column.shape {
                Shape::Key(_) if !text.is_empty() => Cell::To(text.parse().unwrap()),
                shape => shape.read(text, ways).map_err(|fault| format!("{name}.{}: {fault}", column.name)).unwrap(),
            })
            .collect();
        let records = self.book.records.entry(kind.name).or_default();
        let number = i64::try_from(records.len()).unwrap() + 1;
        let entry = entry(&format!("{name} {number}"));
        records.push(Record { number, entry, cells, written: sign.written, who: sign.who, source: sign.source, version: 1 });
        number
    }

    /// A clock time on a day.
    pub fn at(&self, day: Day, clock: &str) -> Moment {
        self.zone.parse_moment(&format!("{day}T{clock}")).unwrap()
    }

    /// A clock time on a day, as it is typed.
    pub fn typed(&self, moment: Moment) -> String {
        self.zone.for_file(moment)
    }
}

/// A mark that looks like every form's mark and is the same every time.
fn entry(words: &str) -> String {
    let mut dice = Dice::of_words(words);
    let (high, low) = (dice.roll(), dice.roll());
    let variant = 0x8000 | ((low >> 48) & 0x3fff);
    format!("{:08x}-{:04x}-4{:03x}-{variant:04x}-{:012x}", high >> 32, (high >> 16) & 0xffff, high & 0xfff, low & 0xffff_ffff_ffff)
}

/// A day.
pub fn day(text: &str) -> Day {
    text.parse().unwrap()
}

/// Tenths of something, as typed: `264` → `26.4`.
pub fn tenths(tenths: i64) -> String {
    Decimal::new(tenths, 1).normalize().to_string()
}

/// Tenths of a pound as milk.
pub fn pounds(tenths: i64) -> Weight {
    Weight::pounds(Decimal::new(tenths, 1))
}

/// Four typed cells: jars by size.
pub fn cells(jars: Jars) -> [String; 4] {
    [jars.gallons, jars.half_gallons, jars.quarts, jars.pints].map(|count| count.to_string())
}
