//! Jars that are thrown out on a bad day, counted lot by lot as they go, and what they would have brought. It is a piece of the pages
//! about a warm fridge and a treated cow, and owns no door.

use super::{Here, field::Field, kind_of, remarks_of};
use crate::{
    store::{books, farm, lots, records, verdict},
    trade::{
        balance::LotJars,
        jars::{Jars, Size},
        loss::{Loss, Lost, Worth},
        records::{Cell, Remark, Shape, read},
        verdict::judge,
        when::Moment,
    },
    web::{answer::Trouble, form::Fields, secret},
};
use sqlx::SqliteConnection;

/// The sizes a lot can be filled in, the usual one first.
const SIZES: [(&str, &str, Size); 4] = [
    ("half_gallons", "Half-gallons", Size::HalfGallon),
    ("quarts", "Quarts", Size::Quart),
    ("pints", "Pints", Size::Pint),
    ("gallons", "Gallons", Size::Gallon),
];

/// A lot with jars left by the book, and a field for each of its sizes.
#[derive(Clone, Debug)]
pub struct Going {
    /// Its code.
    pub code: String,
    /// A field for each size it was filled in.
    pub fields: Vec<Field>,
    number: i64,
    left: Jars,
}

/// The lots of these that have jars left by the book.
///
/// # Errors
/// When the ledger cannot be read.
pub async fn going(db: &mut SqliteConnection, numbers: &[i64], typed: &Fields, remarks: &[Remark]) -> Result<Vec<Going>, Trouble> {
    let moved = lots::moved(&mut *db, numbers).await?;
    let mut going = Vec::new();
    for lot in lots::list(db, numbers).await? {
        let left = LotJars::gathered(moved.get(&lot.number).map_or(&[][..], Vec::as_slice), None).by_the_book();
        let field = |(name, label, _): &(&str, &str, Size)| {
            Field::named(&format!("{name}.{}", lot.number), label, Shape::Count(0, 999), typed, remarks)
        };
        let fields = SIZES.iter().filter(|(_, _, size)| lot.jars.of(*size) > 0).map(field).collect();
        if !left.short_and_over().0.is_none() {
            going.push(Going { code: lot.code, number: lot.number, fields, left });
        }
    }
    Ok(going)
}

/// Keeps as thrown out what was counted, all lots in one act or none; what there is to remark when it cannot.
///
/// # Errors
/// When the ledger cannot be written.
pub async fn keep(here: &Here, numbers: &[i64], typed: &Fields, reason: &str) -> Result<Vec<Remark>, Trouble> {
    let kind = kind_of("asides")?;
    let mut tx = here.app.ledger.begin().await?;
    let mut rows: Vec<(i64, Vec<Cell>)> = Vec::new();
    let mut remarks = Vec::new();
    let is_sent_twice = already(&mut tx, numbers, typed).await?;
    for own in going(&mut tx, numbers, typed, &[]).await?.iter().filter(|own| !is_sent_twice && own.is_counted(typed)) {
        match read(kind, |column| own.line(here, typed, reason, column), here.farm.ways) {
            Ok(cells) => {
                remarks.extend(own.against(kind.jars(&cells)));
                rows.push((own.number, cells));
            }
            Err(more) => {
                remarks.extend(more.into_iter().map(|remark| Remark { field: format!("{}.{}", remark.field, own.number), ..remark }));
            }
        }
    }
    if rows.is_empty() && remarks.is_empty() && !is_sent_twice {
        remarks
            .push(Remark::fault("jars", "Not one jar is counted. Count what goes, lot by lot, and write it down; leave what stays empty."));
    }
    if !remarks.is_empty() {
        return Ok(remarks);
    }
    let act = records::act(&mut tx, here.now, &here.visitor.name, "screen").await?;
    for (number, cells) in rows {
        let entry = mark(typed, number);
        if let Err(refusal) = records::keep(&mut tx, kind, &entry, cells, &act).await {
            return remarks_of(refusal);
        }
    }
    tx.commit().await?;
    Ok(Vec::new())
}

/// The mark of one lot's record within the form.
fn mark(typed: &Fields, number: i64) -> String {
    secret::entry_within(typed.get("entry"), usize::try_from(number).unwrap_or_default())
}

/// Whether this very form was kept before.
async fn already(db: &mut SqliteConnection, numbers: &[i64], typed: &Fields) -> Result<bool, Trouble> {
    for number in numbers {
        if records::by_entry(&mut *db, kind_of("asides")?, &mark(typed, *number)).await?.is_some() {
            return Ok(true);
        }
    }
    Ok(false)
}

impl Going {
    fn is_counted(&self, typed: &Fields) -> bool {
        self.fields.iter().any(|field| !typed.get(&field.name).trim().is_empty())
    }

    /// A cell of the record; a size left empty beside one that was counted is none.
    fn line(&self, here: &Here, typed: &Fields, reason: &str, column: &str) -> String {
        match column {
            "at" => here.zone().for_file(here.now),
            "lot" => self.code.clone(),
            "sort" => "thrown out".to_owned(),
            "reason" => reason.chars().take(200).collect(),
            size => {
                let counted = typed.get(&format!("{size}.{}", self.number)).trim();
                if counted.is_empty() { "0".to_owned() } else { counted.to_owned() }
            }
        }
    }

    fn against(&self, counted: Jars) -> Option<Remark> {
        let first = self.fields.first()?;
        let left = self.left.short_and_over().0;
        if counted.is_none() {
            return Some(Remark::fault(&first.name, format!("{}: no jar is no loss. Leave it empty if none goes.", self.code)));
        }
        let says = format!(
            "By the book {left} are left of {}, so {counted} cannot go. Look at the lids again, or correct what was written before.",
            self.code
        );
        (!left.covers(counted)).then(|| Remark::fault(&first.name, says))
    }
}

/// What is lost of some lots since a moment.
///
/// # Errors
/// When the ledger cannot be read.
pub async fn loss(db: &mut SqliteConnection, here: &Here, numbers: &[i64], since: Moment) -> Result<Loss, Trouble> {
    let today = here.zone().day(here.now);
    let facts = verdict::facts(&mut *db, numbers, here.zone(), here.now).await?;
    let moved = lots::moved(&mut *db, numbers).await?;
    let mut all = Vec::new();
    for lot in lots::list(&mut *db, numbers).await? {
        let own = moved.get(&lot.number).map_or(&[][..], Vec::as_slice);
        let jars = LotJars::gathered(own, None);
        let before: Vec<_> = own.iter().filter(|moved| moved.at < since).cloned().collect();
        let word =
            facts.iter().find(|facts| facts.code == lot.code && facts.filled == lot.filled).map(|facts| judge(facts, here.now).word());
        all.push(Lost {
            thrown_out: jars.thrown_out - LotJars::gathered(&before, None).thrown_out,
            handed_out: jars.handed_out,
            left: jars.by_the_book().short_and_over().0,
            word: word.unwrap_or(crate::trade::words::Word::CantTell),
            jars: lot.jars,
            filled: lot.filled,
            code: lot.code,
        });
    }
    let with_money = here.visitor.is_owner();
    let worth = if with_money {
        Worth::of(&books::terms(&mut *db).await?, farm::assumed(db, "a half-gallon brings", today).await?, today)
    } else {
        None
    };
    Ok(Loss { lots: all, worth, with_money })
}
